"""What one run says of each station's health: play, speed term, warm-up, noise.

From the model of the run (`drift.behaviours`) where there is one; else from the levels of its
holds, which show less: play only where one speed was held twice, come down to and gone up to.
"""

import math
from collections.abc import Iterator

from regscan.drift.behaviour import Behaviour, Behaviours, Term, TermKind
from regscan.drift.drift import Drift
from regscan.history.holds import readings_of_holds
from regscan.history.records import MEASURES, Measure, Reading
from regscan.job.job import Axis
from regscan.run import Run

KINDS: dict[Measure, TermKind] = {
    "play": "two levels",
    "speed term": "speed",
    "warm-up": "warm-up",
}
PER_100_M_MIN = 100.0
CHANGES = 0.2
"""A run changes its speed when its holds and ramps span this share of the top speed."""
WARMS_S = 300.0
"""A run this long would show a warm-up: lamps and drums take minutes (common practice)."""


def readings_of(run: Run) -> tuple[Reading, ...]:
    """Every measure that the run can show, of every colour but the reference."""
    behaviours = run.drift.behaviours
    if behaviours is None or not behaviours.stations:
        return tuple(readings_of_holds(run))
    return tuple(_of_model(behaviours, run))


def _of_model(behaviours: Behaviours, run: Run) -> Iterator[Reading]:
    shown = {measure for measure in MEASURES if _can_show(run.drift, measure)}
    frames = run.inputs.frames_used
    for one in behaviours.stations:
        if one.ink == run.job.reference:
            continue
        axis: Axis
        if one.channel == "circumferential":
            axis = "circumferential"
        elif one.channel == "lateral":
            axis = "lateral"
        else:  # skew and width belong to plate and web
            continue
        limit = run.job.tolerance_for(one.ink).of(axis)
        yield _noise(one, axis, limit, frames)
        for measure, kind in KINDS.items():
            term = _largest(one, kind)
            if term is not None:
                yield _reading(one, axis, measure, term, limit)
            elif measure in shown:
                yield Reading(one.station, one.ink, axis, measure, None, None, limit)


def _noise(one: Behaviour, axis: Axis, limit: float, frames: int) -> Reading:
    """Noise and its doubt: a spread of n independent frames is known to 1 in sqrt(2 n)."""
    independent = frames / max(one.frames_per_independent, 1.0)
    sd = one.noise_mm / math.sqrt(2.0 * independent) if independent >= 1 else None
    return Reading(one.station, one.ink, axis, "noise", one.noise_mm, sd, limit)


def _largest(one: Behaviour, kind: TermKind) -> Term | None:
    terms = [term for term in one.terms if term.kind == kind]
    return max(terms, key=lambda term: abs(term.moves_mm), default=None)


def _reading(one: Behaviour, axis: Axis, measure: Measure, term: Term, limit: float) -> Reading:
    value, sd = term.size.value, term.size.sd
    if measure == "speed term":
        value, sd = PER_100_M_MIN * value, PER_100_M_MIN * sd
    if measure == "play":
        value = abs(value)  # which level is the upper one is a choice of names
    return Reading(one.station, one.ink, axis, measure, value, sd, limit)


def _can_show(drift: Drift, measure: Measure) -> bool:
    """Whether a run would have shown a measure, had there been any of it."""
    if measure == "noise":
        return True
    if measure == "warm-up":
        times = [t for s in drift.segments for t in (s.start_s, s.end_s) if t is not None]
        return bool(times) and max(times) - min(times) >= WARMS_S
    if measure == "play":
        phases = {segment.phase for segment in drift.segments}
        return {"speeding up", "slowing down"} <= phases
    speeds = [v for s in drift.segments for v in (s.start_speed_m_min, s.end_speed_m_min) if v]
    return bool(speeds) and max(speeds) - min(speeds) >= CHANGES * max(speeds)
