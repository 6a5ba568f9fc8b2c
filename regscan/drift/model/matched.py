"""The speed record held against the frames' own positions: a clock that is off, gaps, no record.

Where frames carry both time and web metres, how far the web went from frame to frame is known
without any log. A log on a clock that is off then shows its ramps too early or too late.
"""

from dataclasses import dataclass, replace

import numpy as np

from regscan.drift.behaviour import Estimate
from regscan.drift.frames import Frames
from regscan.drift.model.clocks import LEAST_CHANGE_M_MIN, LEAST_SHARE
from regscan.drift.record import Record
from regscan.units import SECONDS_PER_MINUTE

FARTHEST_S = 45.0
STEP_S = 0.25
LEAST_S = 0.4  # a shift below this moves no print by more than the speed's own noise
SIGMAS = 4.0
CLEARER = 50.0  # by which the squared misfit must be better than with the clock as it is
FEWEST = 12
CORRELATED = 3.5  # log noise and rounded corners make neighbours alike (held by tests)


@dataclass(frozen=True)
class Matched:
    """The record to go by; shift_s of the log's clock where it is off; what was done, in words."""

    record: Record | None
    shift_s: Estimate | None = None
    said: tuple[str, ...] = ()


@dataclass(frozen=True)
class Travel:
    """From frame to frame: start and end in s, and the mean speed between in m/min."""

    start_s: np.ndarray
    end_s: np.ndarray
    speed_m_min: np.ndarray


def matched(frames: Frames, record: Record | None) -> Matched:
    """The record on the frames' clock and without gaps, as far as their positions tell."""
    travel = _travel(frames)
    if travel is None:
        return Matched(record)
    if record is None:
        why = "no speed log: speeds were taken from the frames' own times and web positions"
        return Matched(_own_record(frames, travel), said=(why,))
    if record.unit != "s":
        return Matched(record)
    shift = _shift(travel, record)
    if shift is not None:
        record = replace(
            record,
            at=record.at - shift.value,
            gaps=tuple((a - shift.value, b - shift.value) for a, b in record.gaps),
        )
    said: tuple[str, ...] = (_shift_words(shift),) if shift else ()
    if record.gaps:
        said = (*said, "gaps in the speed log were filled from the frames' own positions")
        record = _filled(record, travel)
    return Matched(record, shift, said)


def _travel(frames: Frames) -> Travel | None:
    time, web = frames.time_s, frames.web_m
    if not (np.isfinite(time).all() and np.isfinite(web).all()):
        return None
    new = np.concatenate(([True], (np.diff(time) > 1e-3) & (np.diff(web) > 1e-4)))
    time, web = time[new], web[new]
    if len(time) < FEWEST:
        return None
    speed = np.diff(web) / np.diff(time) * SECONDS_PER_MINUTE
    return Travel(time[:-1], time[1:], speed)


def _own_record(frames: Frames, travel: Travel) -> Record:
    middle = (travel.start_s + travel.end_s) / 2.0
    return Record("s", middle, travel.speed_m_min, frames.time_s, ())


def _shift(travel: Travel, record: Record) -> Estimate | None:
    """How much more the log's clock shows; None where it is not off, or nothing tells."""
    low, high = np.percentile(travel.speed_m_min, [2, 98])
    if high - low < max(LEAST_CHANGE_M_MIN, LEAST_SHARE * high):
        return None  # one speed looks the same at any time
    tried = np.arange(-FARTHEST_S, FARTHEST_S + STEP_S, STEP_S)
    best = float(tried[int(np.argmin([_misfit(travel, record, s)[0] for s in tried]))])
    for step in (0.05, 0.01):
        near = best + step * np.arange(-6, 7)
        best = float(near[int(np.argmin([_misfit(travel, record, s)[0] for s in near]))])
    misfit, used = _misfit(travel, record, best)
    bend = _misfit(travel, record, best + 0.5)[0] + _misfit(travel, record, best - 0.5)[0]
    curvature = (bend - 2.0 * misfit) / 0.25 * used  # second derivative of the squared misfit
    if curvature <= 0.0 or not np.isfinite(curvature):
        return None
    sd = CORRELATED * float(np.sqrt(2.0 * max(misfit, 1e-6) / curvature))
    clearer = used * (_misfit(travel, record, 0.0)[0] / max(misfit, 1e-9) - 1.0)
    if abs(best) < max(LEAST_S, SIGMAS * sd) or clearer < CLEARER:
        return None
    return Estimate(best, sd, best - 1.96 * sd, best + 1.96 * sd)


def _misfit(travel: Travel, record: Record, shift_s: float) -> tuple[float, int]:
    """(mean squared difference of speeds, how many) when the log is read that much later."""
    start, end = travel.start_s + shift_s, travel.end_s + shift_s
    inside = (start >= record.at[0]) & (end <= record.at[-1])
    for a, b in record.gaps:
        inside &= (end <= a) | (start >= b)
    if inside.sum() < max(0.5 * len(start), FEWEST):
        return np.inf, 1
    steps = np.diff(record.at)
    means = 0.5 * (record.speed_m_min[1:] + record.speed_m_min[:-1])
    passed = np.concatenate(([0.0], np.cumsum(means * steps)))
    went = np.interp(end, record.at, passed) - np.interp(start, record.at, passed)
    off = (travel.speed_m_min - went / (end - start))[inside]
    usual = max(1.4826 * float(np.median(np.abs(off))), 0.05)
    return float(np.mean(np.minimum(off**2, (5.0 * usual) ** 2))), int(inside.sum())


def _shift_words(shift: Estimate) -> str:
    way = "later" if shift.value > 0.0 else "earlier"
    return (
        f"the speed log's clock shows {abs(shift.value):.1f} s {way} than the frames' "
        f"(±{1.96 * shift.sd:.1f} s), by the frames' own positions; it was allowed for"
    )


def _filled(record: Record, travel: Travel) -> Record:
    """The record with the frames' own speeds where the log has gaps."""
    middle = (travel.start_s + travel.end_s) / 2.0
    lost = np.zeros(len(middle), dtype=bool)
    for a, b in record.gaps:
        lost |= (travel.start_s >= a) & (travel.end_s <= b)
    at = np.concatenate((record.at, middle[lost]))
    speed = np.concatenate((record.speed_m_min, travel.speed_m_min[lost]))
    order = np.argsort(at, kind="stable")
    return replace(record, at=at[order], speed_m_min=speed[order], gaps=())
