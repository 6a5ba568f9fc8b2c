"""From a run to what a history keeps of it."""

import hashlib
from pathlib import Path

from regscan.errors import BadTable, Problem
from regscan.history.measures import readings_of
from regscan.history.records import Entry, Kept, Setting
from regscan.history.views import best_tracks
from regscan.run import Run, load_run


def keep_folder(folder: Path, note: str = "") -> Kept:
    """What to keep of the run in a folder that measure or ramp wrote. Raises BadTable."""
    path = folder / "run.json"
    run = load_run(path)
    try:
        document = path.read_bytes()
    except OSError as fault:
        what = f"cannot be read ({fault.strerror})"
        raise BadTable(path, Problem("", what, "try again")) from None
    return keep(run, document, folder, note)


def keep(run: Run, document: bytes, folder: Path, note: str = "") -> Kept:
    """What to keep of a run; `document` is its run.json, `folder` where its files lie."""
    settings = _settings(run)
    entry = Entry(
        number=0,
        key=hashlib.sha256(document).hexdigest(),
        made_at=run.inputs.made_at,
        kind=run.kind,
        job=run.job.name,
        press=run.job.press.name,
        reference=run.job.reference,
        answer=run.verdict.answer,
        folder=str(folder.resolve()),
        frames_found=run.inputs.frames_found,
        frames_used=run.inputs.frames_used,
        metres=run.drift.metres_total,
        metres_outside=run.drift.metres_outside,
        speed_m_min=_usual([one.speed_m_min for one in settings]),
        regscan_version=run.inputs.regscan_version,
        note=note,
    )
    return Kept(entry, readings_of(run), settings, document)


def _settings(run: Run) -> tuple[Setting, ...]:
    moves = {(move.ink, move.axis): move for move in run.corrections}
    found = []
    for (ink, axis), track in best_tracks(run).items():
        first, last = track.levels[0] if track.levels else None, track.settled
        move = moves.get((ink, axis))
        found.append(
            Setting(
                station=track.station,
                ink=ink,
                axis=axis,
                first_mm=first.mean_mm if first else None,
                first_sd_mm=first.sd_mm if first else None,
                last_mm=last.mean_mm if last else None,
                last_sd_mm=last.sd_mm if last else None,
                speed_m_min=last.speed_m_min if last else None,
                step_mm=run.job.station_of(ink).steps.of(axis),
                tolerance_mm=track.tolerance_mm,
                move_mm=move.move_mm if move else None,
                words=move.words if move else "",
            )
        )
    return tuple(found)


def _usual(speeds: list[float | None]) -> float | None:
    known = sorted(speed for speed in speeds if speed is not None)
    return known[len(known) // 2] if known else None
