"""From what a command was given to a finished results folder; shared by measure, ramp and demo."""

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from regscan.cli.given import Wanted, beside, given_cameras, given_job, given_speed_log
from regscan.cli.results import default_out, new_results
from regscan.errors import BadOutput, Problem

if TYPE_CHECKING:
    import numpy as np

    from regscan.cli.against import Earlier
    from regscan.job.job import Job
    from regscan.pipeline import Over

TABLES = ("offsets.csv", "offsets.parquet")


@dataclass(frozen=True, slots=True)
class Extras:
    """What a run is asked for beyond its plain results folder.

    parquet   the tables as Parquet beside the CSV.
    cluster   address of the cluster that measures; "" for this machine's processors.
    against   results of an earlier run, to be compared with.
    history   the history file that the run goes into; None for none.
    """

    parquet: bool = False
    cluster: str = ""
    against: Path | None = None
    history: Path | None = None

    def check(self) -> None:
        """Say before any work what could not be done after it.

        Raises MissingExtra, BadHistory.
        """
        if self.parquet:
            from regscan.offsets.parquet import need_pyarrow

            need_pyarrow()
        if self.cluster:
            from regscan.cluster.link import need_distributed

            need_distributed()
        if self.history:
            from regscan.cli.remember import check_history

            check_history(self.history)

    def remember(self, folder: Path) -> str:
        """Put the finished run into the history; what to say of it. Raises BadHistory."""
        if self.history is None:
            return ""
        from regscan.cli.remember import remember

        return remember(self.history, folder)

    def earlier(self, job: "Job") -> "Earlier | None":
        """The run to compare with. Raises BadTable where it cannot be."""
        if self.against is None:
            return None
        from regscan.cli.against import read_earlier

        return read_earlier(self.against, job)

    def over(self) -> "Over":
        """What the measuring is spread over."""
        if self.cluster:
            from regscan.cluster.over import map_on_cluster

            return partial(map_on_cluster, self.cluster)
        from regscan.workers import map_in_order

        return map_in_order

    def write(self, folder: Path, offsets: "np.ndarray", marks: "np.ndarray | None") -> None:
        """Write what belongs into the results folder."""
        if self.parquet:
            from regscan.offsets.columns import MARK_COLUMNS, OFFSET_COLUMNS
            from regscan.offsets.parquet import write_parquet

            write_parquet(folder / "offsets.parquet", offsets, OFFSET_COLUMNS)
            if marks is not None:
                write_parquet(folder / "marks.parquet", marks, MARK_COLUMNS)


@dataclass(frozen=True, slots=True)
class FrameRun:
    """A run to be measured from frames, as it was asked for.

    out       None for the default folder.
    every_s, every_m   pitch of frames without a clock: seconds, metres of web.
    resume    go on with what an interrupted run left in the same folder.
    """

    kind: Literal["measure", "ramp"]
    frames: tuple[Path, ...]
    wanted: Wanted
    out: Path | None = None
    overlays: bool = False
    every_s: float | None = None
    every_m: float | None = None
    extras: Extras = Extras()
    resume: bool = False


def run_frames(asked: FrameRun, json: bool) -> None:
    """Measure frames, decide, write the results folder, and say what came out."""
    folder = beside(asked.frames)
    # The small files first: their mistakes are told before anything heavy is loaded.
    job = given_job(asked.wanted, folder)
    cameras = given_cameras(asked.wanted, folder, job)
    speed_log = given_speed_log(asked.wanted, folder)
    asked.extras.check()
    earlier = asked.extras.earlier(job)

    from regscan.cli.installation import check_cv2
    from regscan.cli.screen import announce, frame_progress, say
    from regscan.recording.sources import open_recording

    say(check_cv2())
    recording = open_recording(
        asked.frames, speed_log=speed_log, every_s=asked.every_s, every_m=asked.every_m
    )
    from regscan.cli.keeping import keeping
    from regscan.journal.origin import Given
    from regscan.offsets.columns import MARK_COLUMNS, OFFSET_COLUMNS
    from regscan.offsets.table import as_written
    from regscan.pipeline import Task, decide, inputs_of, measure_frames, save_results
    from regscan.report.overlays import write_overlays
    from regscan.report.page import write_report

    out = asked.out or default_out(asked.frames)
    given = Given(asked.kind, job, cameras, recording, speed_log)
    with (
        new_results(out) as draft,
        keeping(draft.parent, given, asked.resume) as journal,
    ):
        with frame_progress() as progress:
            measured = measure_frames(
                recording, job, cameras, progress, journal, asked.extras.over()
            )
        task = Task(asked.kind, job, cameras, speed_log)
        run = decide(task, measured.offsets, inputs_of(recording, measured, cameras))
        save_results(draft, run, measured.offsets, measured.marks)
        asked.extras.write(draft, measured.offsets, measured.marks)
        comparison = earlier.compare(run, draft) if earlier else None
        tables = (
            as_written(measured.offsets, OFFSET_COLUMNS),
            as_written(measured.marks, MARK_COLUMNS),
        )
        if asked.overlays:
            write_overlays(draft, recording, tables)
        write_report(draft, tables)  # after the marked-up frames: it holds some of them
    announce(out, run, json, comparison)
    say(asked.extras.remember(out))


def run_table(
    offsets: Path, wanted: Wanted, out: Path | None, json: bool, extras: Extras = Extras()
) -> None:
    """Judge a table of offsets measured earlier or elsewhere; no image is needed."""
    job = given_job(wanted, offsets.parent)
    speed_log = given_speed_log(wanted, offsets.parent)
    extras.check()
    earlier = extras.earlier(job)

    from regscan.cli.screen import announce, say
    from regscan.offsets.table import read_offsets
    from regscan.pipeline import Task, decide, inputs_of_table, save_results
    from regscan.report.page import write_report

    out = out or default_out([offsets])
    if offsets.resolve() in [(out / name).resolve() for name in TABLES]:
        cure = "give another folder with --out"
        raise BadOutput(out, Problem("", "holds the very table that is to be read", cure))
    table = read_offsets(offsets)
    with new_results(out) as draft:
        run = decide(Task("ramp", job, {}, speed_log), table, inputs_of_table(offsets, table))
        save_results(draft, run, table, None)
        extras.write(draft, table, None)
        comparison = earlier.compare(run, draft) if earlier else None
        write_report(draft)
    announce(out, run, json, comparison)
    say(extras.remember(out))
