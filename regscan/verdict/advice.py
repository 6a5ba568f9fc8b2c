"""Everything `regscan correct` has to say of a run: corrections, plans, waits."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from regscan.drift.drift import Drift
from regscan.errors import BadTable, Problem
from regscan.job.job import Axis, Job
from regscan.verdict.actuator import Actuator, Key
from regscan.verdict.choices import PlanChoice
from regscan.verdict.correct import NOT_MEASURED, propose_moves
from regscan.verdict.plan import Plan
from regscan.verdict.plans import Known, make_plans
from regscan.verdict.settling import Settled, settle
from regscan.verdict.verdict import Correction
from regscan.verdict.views import settled_view
from regscan.verdict.waiting import Waiting


@dataclass(frozen=True)
class Advice:
    """What to do.

    corrections   one per station and axis, of the chosen plan, ready for corrections.csv.
    fewest, plain both plans, whichever was chosen.
    waiting       colours that have not settled, by (ink, axis).
    """

    corrections: tuple[Correction, ...]
    fewest: Plan
    plain: Plan
    waiting: Mapping[tuple[str, Axis], Waiting]


def looked_into(drift: Drift, table: np.ndarray | None, job: Job, last: int | None) -> Settled:
    """The run, or its last frames, with what is transient taken out of the settled levels."""
    return Settled(drift, {}) if table is None else settle(table, drift, job, last)


def advise(
    settled: Settled, job: Job, learned: Mapping[Key, Actuator], choice: PlanChoice
) -> Advice:
    """Corrections and plans from what has settled."""
    fewest, plain = make_plans(settled.drift, job, Known(learned, settled.waiting))
    corrections = propose_moves(settled.drift, job, settled.waiting)
    if choice == "fewest" or learned:
        chosen = fewest if choice == "fewest" else plain
        corrections = _of_plan(chosen, corrections, settled, job)
    return Advice(corrections, fewest, plain, settled.waiting)


def check_levels(corrections: Sequence[Correction], job: Job, path: Path) -> None:
    """Raises BadTable, about the run in `path`, where no colour has anything to be moved by."""
    others = [one for one in corrections if one.ink != job.reference]
    if not others:
        said = f"has no colour that could be moved: only the reference {job.reference}"
        raise BadTable(path, Problem("job", said, "name a run of a job with more colours"))
    if any(one.move_mm is not None for one in others):
        return
    whys: dict[str, None] = {}
    for one in others:
        whys[f"station {one.station} {one.ink}: {one.words.removeprefix(NOT_MEASURED + ': ')}"] = (
            None
        )
    said = "no colour has a settled offset to be moved by" + "".join(f"; {why}" for why in whys)
    cure = "measure frames that show the marks at one speed, then ask again"
    raise BadTable(path, Problem("", said, cure))


def _of_plan(
    plan: Plan, corrections: Sequence[Correction], settled: Settled, job: Job
) -> tuple[Correction, ...]:
    """The corrections with the moves of a plan in place of their own."""
    moves = {(move.station, move.axis): move for move in plan.moves}
    ends = {(end.station, end.axis): end for end in plan.outcomes}
    found = []
    for one in corrections:
        key = one.station, one.axis
        move, end = moves.get(key), ends.get(key)
        if one.ink == job.reference and move:
            words = _joined(move.words, move.approach)
            one = replace(one, move_mm=move.move_mm, steps=move.steps, words=words)
        elif end and move:
            words = _joined(move.words, move.approach, _apart(settled, one))
            one = replace(one, move_mm=move.move_mm, steps=move.steps, words=words,
                          remaining_mm=end.remaining_mm, sd_mm=end.sd_mm)  # fmt: skip
        elif end and one.move_mm is not None:
            words = one.words if one.words.startswith("leave") else "leave"
            one = replace(one, move_mm=0.0, steps=0, words=words, remaining_mm=end.remaining_mm,
                          sd_mm=end.sd_mm)  # fmt: skip
        found.append(one)
    return tuple(found)


def _joined(*parts: str) -> str:
    return "; ".join(part for part in parts if part)


def _apart(settled: Settled, one: Correction) -> str:
    view = settled_view([t for t in settled.drift.tracks if (t.ink, t.axis) == (one.ink, one.axis)])
    return view.apart if view else ""
