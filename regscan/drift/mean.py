"""Mean of a correlated series and the doubt of that mean.

Register noise is not white: it wanders, so n frames tell less than n
independent ones would. See docs/how/drift.md for the derivation and its check.
"""

from dataclasses import dataclass

import numpy as np

CLIP = 2.0  # Huber: residuals beyond this many spreads pull no harder than that
ROUNDS = 50
WINDOW = 5.0  # Sokal: sum autocorrelations up to this many correlation lengths
PRIOR = 3.0  # frames' worth of trust in the spread of the colour's other holds


@dataclass(frozen=True, slots=True)
class Robust:
    """A robust mean, and what each frame contributes to it: mean_mm is influence's mean."""

    mean_mm: float
    influence_mm: np.ndarray


def robust_mean(values: np.ndarray) -> Robust:
    """Huber's mean: like the plain mean for clean frames, yet no single frame moves it far.

    values   at least one, finite. The spread is 1.4826 times the median deviation.
    """
    middle = float(np.median(values))
    spread = 1.4826 * float(np.median(np.abs(values - middle)))
    if spread == 0.0:  # more than half the values alike: nothing to clip by
        return Robust(float(values.mean()), values.astype(float))
    reach = CLIP * spread
    for _ in range(ROUNDS):
        step = float(np.clip(values - middle, -reach, reach).mean())
        middle += step
        if abs(step) < 1e-9 * spread:
            break
    pulled = np.clip(values - middle, -reach, reach)
    # What a frame adds to the mean, scaled up by the frames that had no say (Huber 1981).
    free = float((np.abs(values - middle) < reach).mean())
    return Robust(middle, middle + pulled / free)


def correlation_frames(residuals: list[np.ndarray]) -> float:
    """How many frames are worth one independent frame (1 for white noise, more when it wanders).

    residuals   one array per hold, each about its own mean; all are taken together,
                since one hold alone may be too short to show how the noise wanders.

    The larger of two estimates: that of a first-order process, good in short series,
    and the windowed sum of autocorrelations (Sokal), good when fast noise rides on
    slow. Both are corrected for the mean being estimated from the same frames.
    """
    used = [r for r in residuals if len(r) >= 2]
    total = sum(len(r) for r in used)
    if total < 4:
        return 1.0
    longest = max(len(r) for r in used)
    size = 2 * longest
    power = np.sum([np.abs(np.fft.rfft(r, size)) ** 2 for r in used], axis=0)
    covariance = np.fft.irfft(power, size)[:longest] / total
    if covariance[0] <= 0.0:
        return 1.0
    shape = covariance / covariance[0]
    effective = total / len(used)  # the typical hold sets how much the mean takes away
    return float(max(_first_order(shape, effective), _windowed(shape, effective)))


def _first_order(shape: np.ndarray, n: float) -> float:
    # The lag-one correlation about an estimated mean falls short by (1 + 4 rho) / n
    # (Marriott and Pope 1954, from memory; checked by simulation in the tests).
    rho = (shape[1] * n + 1.0) / (n - 4.0) if n > 8.0 else float(shape[1])
    rho = min(max(rho, 0.0), 1.0 - 2.0 / n)
    return float((1.0 + rho) / (1.0 - rho) - 2.0 * rho * (1.0 - rho**n) / (n * (1.0 - rho) ** 2))


def _windowed(shape: np.ndarray, n: float) -> float:
    sums = 1.0 + 2.0 * np.cumsum(shape[1:])
    lags = np.arange(1, len(shape))
    enough = np.flatnonzero(lags >= WINDOW * np.maximum(sums, 0.0))
    lag = int(enough[0]) if len(enough) else len(lags) - 1
    return max(float(sums[lag]), 1.0) * (1.0 + (2.0 * (lag + 1) + 1.0) / n)


def spread_of(influence: np.ndarray, correlation: float) -> float:
    """Standard deviation of single frames, for frames that are correlated; needs two or more."""
    n = len(influence)
    lost = min(correlation / n, 0.5)  # the mean follows wandering frames and hides that much
    return float(np.sqrt(influence.var() / (1.0 - lost)))


def sd_of_mean(spread: float, correlation: float, frames: int) -> float:
    """Standard deviation of a mean of correlated frames."""
    return spread * float(np.sqrt(max(correlation, 1.0) / frames))
