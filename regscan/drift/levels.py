"""The level a colour settles at in each hold, with the doubt of that level."""

import math
from dataclasses import dataclass

import numpy as np

from regscan.drift.drift import Level, Segment
from regscan.drift.mean import (
    PRIOR,
    correlation_frames,
    robust_mean,
    sd_of_mean,
    spread_of,
)
from regscan.drift.series import Series


@dataclass(frozen=True, slots=True)
class _Hold:
    """The usable frames of one hold; sds without the doubt of the zero."""

    segment: Segment
    values: np.ndarray
    sds: np.ndarray
    doubtful: bool
    zero_sd_mm: float
    camera_sd_mm: float


def find_levels(
    series: Series, of_segment: np.ndarray, segments: tuple[Segment, ...]
) -> tuple[Level, ...]:
    """One level per hold in which the colour was seen, in order.

    of_segment   the segment number of each of the series' frames (0 for none).

    Good frames count, doubtful ones only where a hold has no good one, which the
    level then says. A run that never holds has a level only when it has no ramp
    either (speed not known, or the web stands).
    """
    holds = [
        hold
        for segment in _level_segments(segments)
        if (hold := _hold(series, of_segment == segment.number, segment))
    ]
    means = [robust_mean(hold.values) for hold in holds]
    correlation = correlation_frames([m.influence_mm - m.mean_mm for m in means])
    spreads = [spread_of(m.influence_mm, correlation) for m in means]
    counts = np.array([len(hold.values) for hold in holds], dtype=float)
    pooled = _pooled(np.array(spreads), counts)
    return tuple(
        _level(hold, mean.mean_mm, _shrunk(spread, count, pooled), correlation)
        for hold, mean, spread, count in zip(holds, means, spreads, counts, strict=True)
    )


def _level_segments(segments: tuple[Segment, ...]) -> list[Segment]:
    """The holds; where there is none and nothing ramps, all there is."""
    holds = [s for s in segments if s.phase == "hold"]
    if holds or any(s.phase in ("speeding up", "slowing down") for s in segments):
        return holds
    return list(segments)


def _hold(series: Series, inside: np.ndarray, segment: Segment) -> _Hold | None:
    good, doubtful = series.ok & inside, series.doubtful & inside
    used = good if good.any() else doubtful
    if not used.any():
        return None
    own = np.sqrt(np.maximum(series.sd_mm[used] ** 2 - series.zero_sd_mm**2, 0.0))
    fixed = series.zero_sd_mm, series.camera_sd_mm
    return _Hold(segment, series.value_mm[used], own, not good.any(), *fixed)


def _pooled(spreads: np.ndarray, counts: np.ndarray) -> float:
    """Spread of single frames over all holds; NaN when no hold has two frames."""
    several = counts >= 2
    if not several.any():
        return math.nan
    freedom = counts[several] - 1
    return math.sqrt(float((freedom * spreads[several] ** 2).sum() / freedom.sum()))


def _shrunk(spread: float, count: float, pooled: float) -> float:
    """A hold's own spread, leaning on the other holds where it has few frames."""
    if math.isnan(pooled):
        return math.nan
    own = count - 1
    return math.sqrt((own * spread**2 + PRIOR * pooled**2) / (own + PRIOR))


def _level(hold: _Hold, mean: float, spread: float, correlation: float) -> Level:
    count = len(hold.values)
    seen = 0.0 if math.isnan(spread) else sd_of_mean(spread, correlation, count)
    # Few or rounded frames may agree by chance; they are not better than each was measured.
    known = hold.sds[np.isfinite(hold.sds)]
    measured = math.sqrt(float((known**2).mean()) / count) if len(known) else math.nan
    sd = max(seen, 0.0 if math.isnan(measured) else measured)
    unknown = math.isnan(spread) and math.isnan(measured)
    return Level(
        segment=hold.segment.number,
        speed_m_min=hold.segment.end_speed_m_min,
        frames=count,
        mean_mm=mean,
        sd_mm=None if unknown else math.hypot(sd, hold.zero_sd_mm),
        spread_mm=None if math.isnan(spread) else spread,
        doubtful=hold.doubtful,
        zero_sd_mm=hold.zero_sd_mm,
        camera_sd_mm=hold.camera_sd_mm,
    )
