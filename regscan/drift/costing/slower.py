"""What slower ramps would have wasted, where the run's own ramps can tell.

In a ramp an offset is that of its speed, told from the holds before and after, plus what comes
with acceleration. Whether the latter goes with the rate (inertia, tension) or only with
its sign (play in gears) takes ramps of two rates; without them nothing is claimed.
"""

import math
from dataclasses import dataclass

import numpy as np

from regscan.drift.drift import Level, Segment, Track
from regscan.drift.mean import correlation_frames, robust_mean, sd_of_mean
from regscan.drift.stretches import Seen

RAMPS = ("speeding up", "slowing down")
SLOWER = 0.5  # times the rate
TWO_RATES = 1.5  # times as steep, to be another rate
SURE = 3.0
MISFIT = 4.0  # squared, per degree of freedom: more, and the model is not believed
FEWEST = 8  # frames printed in a ramp
ENDS = 0.25  # share of a ramp's frames at each of its ends that are left out

ONE_RATE = "all ramps have one rate: what goes with the rate cannot be told from play"
ODD = "what happens in the ramps follows neither their rate nor their direction"


@dataclass(frozen=True, slots=True)
class _Ramp:
    """What a colour did in one ramp beyond what its speed explains."""

    rate_m_s2: float
    mean_mm: float
    sd_mm: float
    frames: np.ndarray


def ramp_rate(segment: Segment) -> float | None:
    """Acceleration in m/s2, minus when slowing down; None where time or speed is not known."""
    times, speeds = (
        (segment.start_s, segment.end_s),
        (
            segment.start_speed_m_min,
            segment.end_speed_m_min,
        ),
    )
    if None in times or None in speeds or segment.phase not in RAMPS:
        return None
    took = float(times[1] or 0.0) - float(times[0] or 0.0)
    return None if took <= 0 else (float(speeds[1] or 0.0) - float(speeds[0] or 0.0)) / 60.0 / took


def with_slower_ramps(
    track: Track, seen: Seen, of_segment: np.ndarray, segments: tuple[Segment, ...]
) -> np.ndarray | str:
    """Offsets of the good frames, had every ramp had SLOWER times its rate; or why not.

    of_segment   the segment each good frame belongs to, by when it was printed.
    """
    ramps = _ramps(track, seen, of_segment, segments)
    if isinstance(ramps, str):
        return ramps
    moved = [ramp for ramp in ramps if abs(ramp.mean_mm) > SURE * ramp.sd_mm]
    if not moved:
        return seen.value_mm
    per_rate = _per_rate(ramps)
    if isinstance(per_rate, str):
        return per_rate
    value = seen.value_mm.copy()
    for ramp in ramps:
        value[ramp.frames] -= (1.0 - SLOWER) * per_rate * ramp.rate_m_s2
    return value


def _per_rate(ramps: list[_Ramp]) -> float | str:
    """mm per m/s2, beside a part that only knows the direction; 0 where it is not sure."""
    rates = np.array([ramp.rate_m_s2 for ramp in ramps])
    if np.abs(rates).max() < TWO_RATES * np.abs(rates).min():
        return ONE_RATE
    sds = np.array([ramp.sd_mm for ramp in ramps])
    means = np.array([ramp.mean_mm for ramp in ramps]) / sds
    design = np.column_stack([rates, np.sign(rates)]) / sds[:, None]
    sizes, *_ = np.linalg.lstsq(design, means, rcond=None)
    left = float(((means - design @ sizes) ** 2).sum())
    freedom = len(ramps) - 2
    if freedom > 0 and left > MISFIT * freedom:
        return ODD
    sd = float(np.sqrt(np.linalg.pinv(design.T @ design)[0, 0]))
    return float(sizes[0]) if abs(sizes[0]) > SURE * sd else 0.0


def _ramps(
    track: Track, seen: Seen, of_segment: np.ndarray, segments: tuple[Segment, ...]
) -> list[_Ramp] | str:
    levels = {level.segment: level for level in track.levels}
    found: list[_Ramp] = []
    for segment in segments:
        if segment.phase not in RAMPS:
            continue
        before, after = levels.get(segment.number - 1), levels.get(segment.number + 1)
        rate = ramp_rate(segment)
        if not (before and after and rate):
            return "a ramp has no hold before and after it, or its rate is not known"
        frames = np.flatnonzero(of_segment == segment.number)
        if len(frames) < FEWEST:
            return f"a ramp shows {len(frames)} frames, fewer than {FEWEST}"
        found.append(_ramp(rate, seen, frames, (before, after)))
    return found or "this run has no ramp"


def _ramp(rate: float, seen: Seen, frames: np.ndarray, holds: tuple[Level, Level]) -> _Ramp:
    at = sorted(holds, key=lambda level: level.speed_m_min or 0.0)
    speeds = [level.speed_m_min or 0.0 for level in at]
    # At its ends one colour is printed in the ramp and the other is not.
    ends = int(ENDS * len(frames))
    middle = frames[ends : len(frames) - ends]
    foreseen = np.interp(seen.speed_m_min[middle], speeds, [level.mean_mm for level in at])
    left = seen.value_mm[middle] - foreseen
    mean = robust_mean(left)
    own = mean.influence_mm - mean.mean_mm
    sd = sd_of_mean(float(own.std()), correlation_frames([own]), len(middle))
    doubts = [max(sd, *(_sd_of(level, len(middle)) for level in holds))]
    doubts += [(level.own_sd_mm or 0.0) / 2.0 for level in holds]
    return _Ramp(rate, mean.mean_mm, max(math.hypot(*doubts), 1e-9), frames)


def _sd_of(level: Level, frames: int) -> float:
    """Doubt that the noise of a hold gives the mean of so many frames."""
    return (level.own_sd_mm or 0.0) * math.sqrt(level.frames / frames)
