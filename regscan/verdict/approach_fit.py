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


@dataclass(frozen=True)
class _Tries:
    """Every start with every length, one entry each.

    misfit    sum of squared residuals, made worse for a jump.
    weights   tries x 3: level before the jump, final level, size of the approach.
    variance  of the final level, for noise of variance one.
    """

    start: np.ndarray
    length: np.ndarray
    misfit: np.ndarray
    weights: np.ndarray
    variance: np.ndarray


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
    tries = _all_tries(along, y, starts, lengths)
    best = int(np.argmin(tries.misfit))
    start, length, least = (float(a[best]) for a in (tries.start, tries.length, tries.misfit))
    before, after, size = (float(w) for w in tries.weights[best])
    residuals = y - _columns(along, start, np.array([length]))[0] @ tries.weights[best]
    correlation = correlation_frames([residuals])
    noise = least / max(len(y) - 5, 1) * correlation or 1e-30
    final, sd = _final(tries, CAUTIOUS * noise)
    left = size * math.exp(-(float(along[-1]) - start) / length)
    return Fit(
        evidence=(float(((y - y.mean()) ** 2).sum()) - least) / noise,
        start=start,
        size_mm=size,
        jump_mm=0.0 if start == along[0] else after - before,
        length=length,
        final_mm=final,
        final_sd_mm=sd,
        now_mm=after + left,
        left_mm=left,
        ended=bool(length < 0.9 * LONGEST * span),
    )


def _final(tries: _Tries, noise: float) -> tuple[float, float]:
    """(final, sd) over all tries, each weighed by how well it fits: what is not known of the
    approach's length is in the doubt of its end."""
    weights = np.exp(-(tries.misfit - tries.misfit.min()) / (2.0 * noise))
    weights /= weights.sum()
    finals = tries.weights[:, 1]
    mean = float(weights @ finals)
    return mean, math.sqrt(float(weights @ (tries.variance * noise + (finals - mean) ** 2)))


def _all_tries(along: np.ndarray, y: np.ndarray, starts: np.ndarray, lengths: np.ndarray) -> _Tries:
    """Least squares of every start and length."""
    misfits, weights, variances = [], [], []
    for start in starts:
        columns = _columns(along, float(start), lengths)
        turned = columns.transpose(0, 2, 1)
        # A hold that begins with the approach has nothing before it: that weight is then zero.
        inverse = np.linalg.pinv(turned @ columns, hermitian=True)
        found = np.einsum("tij,tjn,n->ti", inverse, turned, y)
        residuals = y - np.einsum("tni,ti->tn", columns, found)
        cost = 1.0 + JUMP_COST / len(y) if start > along[0] else 1.0
        misfits.append((residuals**2).sum(axis=1) * cost)
        weights.append(found)
        variances.append(inverse[:, 1, 1])
    return _Tries(
        np.repeat(starts, len(lengths)),
        np.tile(lengths, len(starts)),
        np.concatenate(misfits),
        np.concatenate(weights),
        np.concatenate(variances),
    )


def _columns(along: np.ndarray, start: float, lengths: np.ndarray) -> np.ndarray:
    """lengths x frames x 3: before the jump, after it, what is left of the approach."""
    after = along >= start
    left = np.exp(-np.maximum(along - start, 0.0) / lengths[:, None]) * after
    flat = np.broadcast_to(after.astype(float), left.shape)
    return np.stack([1.0 - flat, flat, left], axis=2)


def _tamed(values: np.ndarray) -> np.ndarray:
    """Values with single frames that stand off from both neighbours drawn in."""
    middle = values.copy()
    middle[1:-1] = np.median([values[:-2], values[1:-1], values[2:]], axis=0)
    spread = 1.4826 * float(np.median(np.abs(values - middle))) or float(np.std(values - middle))
    return middle + np.clip(values - middle, -4.0 * spread, 4.0 * spread)
