"""How a hold approaches its end: a level, a jump, and an exponential approach after it."""

import math
from dataclasses import dataclass

import numpy as np

from regscan.drift.mean import correlation_frames

BREAKS = 9  # places of a jump that are tried, evenly over the hold; the first is its start
LENGTHS = 20  # lengths of the approach that are tried
LONGEST = 1.0  # in lengths of the hold: an approach longer than that is a straight drift

CAUTIOUS = 3.0  # how much larger a misfit still counts as possible: a few frames cannot show how
# far they wander, and no press warms up by one exponential
JUMP_COST = 20.0  # squared standard deviations a jump must gain, since it was looked for


@dataclass(frozen=True, slots=True)
class Fit:
    """The best approach: now = final + what is left, which shrinks by e over `length`.

    evidence    how much better it fits than one level does, in squared standard
                deviations, frames that wander counting as fewer.
    ended       False where the approach is so slow that its end is not in sight.
    start       where the jump or the hold begins; `size_mm` is what was to go there.
    jump_mm     the end less the level before the jump; 0 where there was none.
    """

    evidence: float
    start: float
    size_mm: float
    jump_mm: float
    length: float
    final_mm: float
    final_sd_mm: float
    now_mm: float
    left_mm: float
    ended: bool

    def gone_at(self, small_mm: float) -> float:
        """Where what is left has become smaller than small_mm."""
        if abs(self.size_mm) <= small_mm:
            return self.start
        return self.start + self.length * math.log(abs(self.size_mm) / small_mm)


@dataclass(frozen=True, slots=True)
class _Try:
    rss: float
    start: float
    length: float
    weights: np.ndarray
    variance: float
    residuals: np.ndarray


def fit_approach(along: np.ndarray, values: np.ndarray) -> Fit | None:
    """The best fit over all places of a jump and lengths of an approach.

    along    where each frame lies (metres, seconds or frames), rising.
    values   offsets in mm, one per frame; a single wild frame is drawn in first.

    None when the frames do not differ or do not advance.
    """
    span = float(along[-1] - along[0])
    y = _tamed(values)
    if span <= 0.0 or np.ptp(y) == 0.0:
        return None
    pitch = span / (len(along) - 1)
    lengths = np.geomspace(2.0 * pitch, 2.0 * LONGEST * span, LENGTHS)
    starts = along[0] + span * np.arange(BREAKS) / (BREAKS + 1)
    tries = [_try(along, y, s, length) for s in starts for length in lengths]
    best = min(tries, key=lambda one: one.rss)
    correlation = correlation_frames([best.residuals])
    noise = best.rss / max(len(y) - 5, 1)
    evidence = (float(((y - y.mean()) ** 2).sum()) - best.rss) / (noise * correlation or 1e-30)
    final, sd = _final(tries, CAUTIOUS * noise * correlation)
    size = float(best.weights[2])
    now = float(best.weights[1]) + size * math.exp(-(along[-1] - best.start) / best.length)
    left = size * math.exp(-(along[-1] - best.start) / best.length)
    return Fit(
        evidence=evidence,
        start=best.start,
        size_mm=size,
        jump_mm=0.0 if best.start == along[0] else float(best.weights[1] - best.weights[0]),
        length=best.length,
        final_mm=final,
        final_sd_mm=sd,
        now_mm=now,
        left_mm=left,
        ended=best.length < 0.9 * LONGEST * span,
    )


def _final(tries: list[_Try], noise: float) -> tuple[float, float]:
    """(final, sd) over all tries, each weighed by how well it fits: what is not known of the
    approach's length is in the doubt of its end."""
    noise = noise or 1e-30
    misfits = np.array([one.rss for one in tries])
    weights = np.exp(-(misfits - misfits.min()) / (2.0 * noise))
    weights /= weights.sum()
    finals = np.array([one.weights[1] for one in tries])
    mean = float(weights @ finals)
    own = np.array([one.variance for one in tries]) * noise
    return mean, math.sqrt(float(weights @ (own + (finals - mean) ** 2)))


def _tamed(values: np.ndarray) -> np.ndarray:
    """Values with single frames that stand off from both neighbours drawn in."""
    middle = values.copy()
    middle[1:-1] = np.median([values[:-2], values[1:-1], values[2:]], axis=0)
    spread = 1.4826 * float(np.median(np.abs(values - middle))) or float(np.std(values - middle))
    return middle + np.clip(values - middle, -4.0 * spread, 4.0 * spread)


def _try(along: np.ndarray, y: np.ndarray, start: float, length: float) -> _Try:
    after = along >= start
    shape = np.where(after, np.exp(-np.maximum(along - start, 0.0) / length), 0.0)
    columns = np.stack([~after, after, shape], axis=1).astype(float)
    # A hold that begins with the approach has nothing before it.
    used = columns[:, 0].any()
    design = columns if used else columns[:, 1:]
    inverse = np.linalg.pinv(design.T @ design)
    weights = inverse @ (design.T @ y)
    residuals = y - design @ weights
    whole = weights if used else np.concatenate(([0.0], weights))
    variance = float(inverse[1, 1] if used else inverse[0, 0])
    misfit = float(residuals @ residuals) * (1.0 + used * JUMP_COST / len(y))
    return _Try(misfit, start, length, whole, variance, residuals)
