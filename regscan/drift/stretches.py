"""Web outside tolerance: where a colour left, where it came back, how far it went.

A frame is outside when its offset is larger than the tolerance. What makes a
stretch of such frames count, so that noise near the limit does not:
  - one frame lies beyond the tolerance by more than CLEARLY times its doubt, or
  - IN_A_ROW frames in a row each lie beyond it by more than their doubt.
The doubt of a frame is the larger of what was measured for it and the colour's
own noise from frame to frame; from fewer than FEWEST good frames that noise cannot
be told, and no stretch is claimed.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from regscan.drift.drift import Stretch
from regscan.drift.frames import Frames
from regscan.drift.pieces import noise_of
from regscan.drift.series import Series

CLEARLY = 3.0
IN_A_ROW = 3
FEWEST = 5


@dataclass(frozen=True, slots=True)
class Seen:
    """The good frames of a series and what each of them says.

    frame          positions in the run's list of frames.
    doubt_mm       the larger of the measured doubt and the frame-to-frame noise.
    beyond_mm      |offset| minus tolerance.
    speed_m_min    speed when printed; web_m, time_s: at the camera. NaN where not known.
    """

    frame: np.ndarray
    value_mm: np.ndarray
    doubt_mm: np.ndarray
    beyond_mm: np.ndarray
    speed_m_min: np.ndarray
    web_m: np.ndarray
    time_s: np.ndarray
    name: np.ndarray


def good_frames(series: Series, frames: Frames, printed_speed_m_min: np.ndarray) -> Seen:
    """The frames whose offset may be believed; doubtful ones never make or end a stretch."""
    ok = series.ok
    value, place = series.value_mm[ok], series.frame[ok]
    measured = np.nan_to_num(series.sd_mm[ok])
    return Seen(
        frame=place,
        value_mm=value,
        doubt_mm=np.maximum(measured, noise_of(value)),
        beyond_mm=np.abs(value) - series.tolerance_mm,
        speed_m_min=printed_speed_m_min[ok],
        web_m=frames.web_m[place],
        time_s=frames.time_s[place],
        name=frames.name[place],
    )


def find_stretches(seen: Seen) -> tuple[Stretch, ...]:
    """Every stretch outside tolerance, in order; the rule is at the head of this file.

    Frames in which the colour was not found, and one frame that is back inside by
    less than its doubt, do not end a stretch. It begins halfway between the last
    frame inside and the first outside, at most one usual pitch away, and ends so too.
    """
    if len(seen.frame) < FEWEST:
        return ()
    pitch = _usual_pitch(seen.web_m)
    return tuple(_stretch(seen, span, pitch) for span in _spans(seen) if _counts(seen, span))


def _spans(seen: Seen) -> list[tuple[int, int]]:
    """(first, last) of each run of frames outside, bridged over a hesitant frame inside."""
    outside = np.flatnonzero(seen.beyond_mm > 0)
    if not len(outside):
        return []
    breaks = [
        k
        for k, (one, other) in enumerate(pairwise(outside.tolist()))
        if not _bridged(seen, one, other)
    ]
    firsts = outside[[0, *(k + 1 for k in breaks)]]
    lasts = outside[[*breaks, len(outside) - 1]]
    return list(zip(firsts.tolist(), lasts.tolist(), strict=True))


def _bridged(seen: Seen, one: int, other: int) -> bool:
    if other - one > 2:
        return False
    between = slice(one + 1, other)
    return bool((-seen.beyond_mm[between] < seen.doubt_mm[between]).all())


def _counts(seen: Seen, span: tuple[int, int]) -> bool:
    part = slice(span[0], span[1] + 1)
    beyond, doubt = seen.beyond_mm[part], seen.doubt_mm[part]
    if (beyond > CLEARLY * doubt).any():
        return True
    likely = (beyond > doubt).astype(int)
    return bool(np.convolve(likely, np.ones(IN_A_ROW, dtype=int)).max() >= IN_A_ROW)


def _stretch(seen: Seen, span: tuple[int, int], pitch: float) -> Stretch:
    first, last = span
    part = slice(first, last + 1)
    returned = last + 1 < len(seen.frame)
    start = _border(seen.web_m, first, first - 1, pitch) if first else float(seen.web_m[0])
    end = _border(seen.web_m, last, last + 1, pitch) if returned else float(seen.web_m[last])
    worst = first + int(np.argmax(np.abs(seen.value_mm[part])))
    return Stretch(
        from_frame=str(seen.name[first]),
        to_frame=str(seen.name[last]),
        frames=int((seen.beyond_mm[part] > 0).sum()),
        from_m=known(start),
        to_m=known(end),
        metres=known(end - start),
        from_s=known(seen.time_s[first]),
        to_s=known(seen.time_s[last]),
        left_at_speed_m_min=known(seen.speed_m_min[max(first - 1, 0) : first + 1].mean()),
        back_at_speed_m_min=known(seen.speed_m_min[last : last + 2].mean()) if returned else None,
        worst_mm=float(seen.value_mm[worst]),
        returned=returned,
        worst_sd_mm=float(seen.doubt_mm[worst]) or None,
    )


def _border(web_m: np.ndarray, outside: int, inside: int, pitch: float) -> float:
    """Halfway to the frame inside, yet no further than a usual pitch from the frame outside."""
    half = (float(web_m[inside]) - float(web_m[outside])) / 2.0
    return float(web_m[outside]) + float(np.clip(half, -pitch, pitch))


def _usual_pitch(web_m: np.ndarray) -> float:
    steps = np.diff(web_m)
    steps = steps[np.isfinite(steps) & (steps > 0)]
    return float(np.median(steps)) if len(steps) else 0.0


def known(value: float) -> float | None:
    """A number as the records keep it: None instead of NaN."""
    return float(value) if np.isfinite(value) else None
