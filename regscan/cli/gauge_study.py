"""From what regscan gauge was given to the studies, the gauges, and what is said of them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from regscan.cli.given import Wanted, beside, given_cameras, given_job
from regscan.cli.options import OUT
from regscan.errors import BadStudy, Problem
from regscan.job.job import Job

if TYPE_CHECKING:
    import numpy as np

    from regscan.instrument.gauge.arrange import Arranged
    from regscan.instrument.gauge.study import Entry

NAMES = ("gauge.csv", "gauge.svg", "offsets.csv")


@dataclass(frozen=True, slots=True)
class Asked:
    """The command's arguments."""

    frames: tuple[Path, ...]
    study: Path | None
    offsets: Path | None
    job: Path | None
    camera: Path | None
    method: Literal["anova", "ranges"]
    out: Path | None


def judge_study(asked: Asked) -> None:
    """Measure or read the offsets, judge them, write table and picture, say what came out."""
    folder = asked.offsets.parent if asked.offsets else beside(asked.frames)
    job = given_job(Wanted(asked.job, asked.camera), folder)

    from regscan.cli.gauge_tables import show_gauges
    from regscan.cli.results import new_results
    from regscan.instrument.gauge.columns import GAUGE_COLUMNS, gauge_table
    from regscan.instrument.gauge.judge import judge
    from regscan.instrument.gauge.picture import gauge_picture
    from regscan.offsets.columns import OFFSET_COLUMNS
    from regscan.offsets.table import write_table
    from regscan.wholefile import write_whole

    entries, source = _plan(asked, folder)
    out = asked.out or OUT / f"{folder.resolve().name or 'study'}-gauge"
    with new_results(out, NAMES) as draft:
        if asked.offsets:
            table = _read(asked.offsets)
        else:
            table, entries = _measured(asked, folder, job, entries)
        arranged = _arranged(table, entries, job, source)
        gauges = judge(arranged.studies, job, asked.method, source)
        write_table(draft / "gauge.csv", gauge_table(gauges), GAUGE_COLUMNS)
        title = f"Gauge study of {job.name} on {job.press.name}"
        write_whole(draft / "gauge.svg", gauge_picture(gauges, arranged.studies, title))
        if not asked.offsets:
            write_table(draft / "offsets.csv", table, OFFSET_COLUMNS)
    show_gauges(gauges, arranged.not_seen, title)
    import typer

    typer.echo(f"Results: {out}")


def _plan(asked: Asked, folder: Path) -> tuple[tuple["Entry", ...], str]:
    """The study's entries, () for a standing web, and where they stand written."""
    from regscan.instrument.gauge.study_file import NAME, read_study, study_of_folders

    own = folder / NAME
    path = asked.study or (own if own.exists() else None)
    if path is not None:
        return read_study(path), str(path)
    if len(asked.frames) == 1 and folder.is_dir() and asked.frames[0] == folder:
        return study_of_folders(folder), str(folder)
    return (), str(folder)


def _read(path: Path) -> "np.ndarray":
    from regscan.offsets.table import read_offsets

    return read_offsets(path)


def _measured(
    asked: Asked, folder: Path, job: Job, entries: Sequence["Entry"]
) -> tuple["np.ndarray", tuple["Entry", ...]]:
    """The table of offsets, and the entries with the names it knows the frames by."""
    cameras = given_cameras(Wanted(asked.job, asked.camera), folder, job)

    from regscan.cli.installation import check_cv2
    from regscan.cli.screen import frame_progress, say
    from regscan.pipeline import measure_frames
    from regscan.recording.sources import open_recording

    say(check_cv2())
    wanted = [folder / entry.frame for entry in entries]
    recording = open_recording(wanted or asked.frames)
    names = {source.path.resolve(): source.info.name for source in recording.sources}
    named = [
        replace(entry, frame=names.get(path.resolve(), entry.frame))
        for entry, path in zip(entries, wanted, strict=True)
    ]
    with frame_progress() as progress:
        measured = measure_frames(recording, job, cameras, progress)
    return measured.offsets, tuple(named)


def _arranged(table: "np.ndarray", entries: Sequence["Entry"], job: Job, source: str) -> "Arranged":
    from regscan.instrument.gauge.arrange import arrange_crossed, arrange_standing

    if not len(table):
        raise BadStudy(source, Problem("", "no frame was measured", "measure one of them first"))
    if entries:
        return arrange_crossed(table, entries, job, source)
    return arrange_standing(table, job, source)
