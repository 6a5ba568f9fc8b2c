"""The results of a watched job, in the files that every other command reads."""

from datetime import datetime
from pathlib import Path

import regscan
from regscan.errors import BadFrames
from regscan.offsets.columns import MARK_COLUMNS, OFFSET_COLUMNS
from regscan.offsets.growing import GrowingTable
from regscan.pipeline import Task, camera_notes, decide, save_results
from regscan.run import Inputs, SkippedFrame
from regscan.watch.session import Session
from regscan.watch.zero import counted_from


def finish(session: Session, folder: Path) -> bool:
    """Write offsets.csv, marks.csv, corrections.csv and run.json; False where nothing was measured.

    folder   where the frames were watched. Offsets count from the zero that holds at the end.
    Raises BadOutput.
    """
    offsets, marks = GrowingTable(OFFSET_COLUMNS), GrowingTable(MARK_COLUMNS)
    skipped, frames = [], 0
    for record in session.kept.records():
        frames += 1
        if record.why:
            skipped.append(SkippedFrame(record.name, record.why))
            continue
        offsets.add(counted_from(record.offsets, session.memory.base, session.job))
        marks.add(record.marks)
    if frames == len(skipped):
        return False
    table = offsets.whole()
    task = Task("ramp", session.job, session.given.cameras)
    try:
        run = decide(task, table, _inputs(session, folder, frames, tuple(skipped)))
    except BadFrames:  # not one mark was seen
        return False
    save_results(session.kept.folder, run, table, marks.whole())
    return True


def _inputs(
    session: Session, folder: Path, frames: int, skipped: tuple[SkippedFrame, ...]
) -> Inputs:
    return Inputs(
        frames_folder=str(folder),
        frames_found=frames,
        frames_used=frames - len(skipped),
        skipped=skipped,
        clock="as the frames came: from frames.csv, or at a fixed pitch",
        notes=(
            "watched while it printed (regscan watch)",
            f"offsets count from {session.zero_words()}",
            *camera_notes(session.given.cameras),
        ),
        regscan_version=regscan.__version__,
        made_at=datetime.now().astimezone().isoformat(timespec="seconds"),
    )
