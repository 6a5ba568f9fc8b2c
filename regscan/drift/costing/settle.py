"""How many metres of web each colour takes to settle after the speed changed."""

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from regscan.drift.cost import Settling
from regscan.drift.drift import Segment
from regscan.drift.mean import correlation_frames
from regscan.drift.series import Series
from regscan.drift.stretches import Seen

AVERAGED = 5  # frames of the running mean
FEWEST = 20  # good frames of a hold, or its settling cannot be told
BAND_SHARE = 0.1  # of the tolerance: settled from where the running mean stays this near ...
SURE = 3.0  # ... or within so many of its own standard deviations
RAMPS = ("speeding up", "slowing down")


def settling_of(
    series: Series, seen: Seen, segments: tuple[Segment, ...], web_m: np.ndarray
) -> Iterator[Settling]:
    """One for each hold that follows a ramp.

    web_m   of the run's frames, at the camera of the series.
    """
    for before, hold in pairwise(segments):
        if before.phase in RAMPS and hold.phase == "hold":
            metres, why = _metres(series, seen, hold, web_m)
            about = series.station, series.ink, series.axis, series.camera, series.edge
            yield Settling(*about, hold.number, metres, why)


def _metres(
    series: Series, seen: Seen, hold: Segment, web_m: np.ndarray
) -> tuple[float | None, str]:
    mine = (seen.frame >= hold.first_frame) & (seen.frame <= hold.last_frame)
    values, at = seen.value_mm[mine], web_m[seen.frame[mine]]
    if hold.start_m is None or not np.isfinite(at).all():
        return None, "web positions are not known"
    if len(values) < FEWEST:
        return None, f"the hold shows {len(values)} good frames, fewer than {FEWEST}"
    late = values[len(values) // 2 :]
    level = float(np.median(late))
    off = np.abs(np.convolve(values, np.ones(AVERAGED) / AVERAGED, "valid") - level)
    outside = np.flatnonzero(off > _band(series, late))
    if not len(outside):
        return 0.0, ""
    last = int(outside[-1]) + AVERAGED - 1
    metres = float(at[last]) - hold.start_m
    if last >= len(values) // 2:
        return None, f"it had not settled when the hold ended, {float(at[-1]) - hold.start_m:.0f} m"
    return max(metres, 0.0), ""


def _band(series: Series, late: np.ndarray) -> float:
    left = late - late.mean()
    correlation = min(correlation_frames([left]), float(AVERAGED))
    sd = float(left.std()) * float(np.sqrt(correlation / AVERAGED))
    return max(BAND_SHARE * series.tolerance_mm, SURE * sd)
