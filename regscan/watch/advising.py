"""From remembered frames to the moves to make now, and whether made moves did what they should."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from regscan.camera.camera import Camera
from regscan.drift.describe import describe_run
from regscan.errors import BadTable
from regscan.job.job import AXES, Axis, Job
from regscan.offsets.calibration import calibration_sds
from regscan.offsets.columns import OFFSET_COLUMNS
from regscan.offsets.rows import Row, table_of
from regscan.verdict.correct import propose_moves
from regscan.verdict.effects import Effect
from regscan.verdict.movelog import Made
from regscan.verdict.seen import within_run
from regscan.verdict.settling import settle
from regscan.verdict.waits import wait_m
from regscan.watch.entry import Entry, Memory
from regscan.watch.pending import Pending
from regscan.watch.watched import MoveAdvice

LAST = 24  # frames the levels of the moves are taken from
BEFORE = 8  # frames before a move that tell where the print was


@dataclass(frozen=True, slots=True)
class Now:
    """Moves to make now, the reference first and then from the unwind on; and what to know."""

    moves: tuple[MoveAdvice, ...] = ()
    remarks: tuple[str, ...] = ()


def advice(memory: Memory, pending: Pending, cameras: Mapping[str, Camera]) -> Now:
    """What the frames that count advise. Nothing where there are none."""
    counting = {axis: memory.rows(partial(_shown, pending, axis)) for axis in AXES}
    one, other = counting.values()
    if len(one) == len(other):  # nothing waits, or the same on both axes
        found = _advised(memory.job, one, cameras, AXES)
    else:
        found = [w for axis in AXES for w in _advised(memory.job, counting[axis], cameras, (axis,))]
    moves = [thing for thing in found if isinstance(thing, MoveAdvice)]
    moves.sort(key=lambda move: (move.ink != memory.job.reference, move.station))
    return Now(tuple(moves), tuple(thing for thing in found if isinstance(thing, str)))


def _shown(pending: Pending, axis: Axis, ink: str, entry: Entry) -> bool:
    return pending.counts(ink, axis, entry)


def _advised(
    job: Job, rows: list[Row], cameras: Mapping[str, Camera], axes: Sequence[Axis]
) -> list[MoveAdvice | str]:
    """Moves on these axes, and in words what still changes."""
    seen = {str(row["ink"]) for row in rows if row["status"] == "ok"}
    if job.reference not in seen:
        return []
    table = table_of(rows, OFFSET_COLUMNS)
    drift = describe_run(table, job, None, calibration_sds(job, cameras))
    settled = settle(table, drift, job, LAST)
    moves: list[MoveAdvice | str] = [
        MoveAdvice(
            c.station, c.ink, c.axis, c.move_mm, c.steps, c.words,
            wait_m(job.press.stations[c.station - 1], job),
        )
        for c in propose_moves(settled.drift, job, settled.waiting)
        if c.ink in seen and c.axis in axes and c.move_mm and c.steps
    ]  # fmt: skip
    waiting = [w for w in settled.waiting.values() if w.axis in axes]
    return moves + [f"Station {w.station} {w.ink}: {w.words}" for w in waiting]


def effects(memory: Memory, made: Sequence[Made], log: Path) -> list[Effect]:
    """What the remembered frames show of moves; the first of them is the earliest.

    Only the last few frames before it are looked at: what the print did earlier, and why it
    was moved, would count as noise.
    """
    places = [(one, one.web_m) for one in made if one.web_m is not None]
    if not places:
        return []
    first = min(web for _, web in places)
    earlier = [e for e in memory.entries if e.info.web_m is not None and e.info.web_m <= first]
    used = [*earlier[-BEFORE:], *(e for e in memory.entries if (e.info.web_m or 0.0) > first)]
    rows = [row for entry in used for row in entry.offsets]
    if not rows:
        return []
    try:
        table = table_of(rows, OFFSET_COLUMNS)
        return within_run([one for one, _ in places], table, memory.job, log)
    except BadTable:
        return []
