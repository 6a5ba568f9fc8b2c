"""The average and range method: the same components from ranges, by hand and pocket calculator.

The factors are 1/d2 for the many ranges of the trials and 1/d2* for the single range of
the set-ups' or parts' means, d2* = sqrt(d2^2 + d3^2), rounded to four decimals as the
printed tables have them. d2 and d3, mean and sd of the range of n normal values, are
computed here and not copied.
"""

import math
from functools import cache

import numpy as np

from regscan.instrument.gauge.anova import Components

MOST = 10
"""Values in one range: with more, a range wastes most of what they say."""


def by_ranges(values: np.ndarray) -> Components:
    """Parts x set-ups x trials, at least two parts and trials; one set-up leaves it out."""
    parts, setups, trials = values.shape
    ev = float(np.ptp(values, axis=2).mean()) * trials_factor(trials)
    part = float(np.ptp(values.mean(axis=(1, 2)))) * means_factor(parts)
    if setups == 1:
        return Components(ev, None, None, part)
    between = float(np.ptp(values.mean(axis=(0, 2)))) * means_factor(setups)
    av = math.sqrt(max(between**2 - ev**2 / (parts * trials), 0.0))
    return Components(ev, av, 0.0, part, pooled=True)


def trials_factor(trials: int) -> float:
    """K1: repeatability over the mean range of that many trials."""
    return round(1.0 / _range_moments(trials)[0], 4)


def means_factor(count: int) -> float:
    """K2 and K3: the sd of that many means over their one range."""
    return round(1.0 / math.hypot(*_range_moments(count)), 4)


@cache
def _range_moments(n: int) -> tuple[float, float]:
    """(d2, d3): mean and sd of the range of n independent standard normal values."""
    from scipy.special import ndtr

    at = np.linspace(-8.0, 8.0, 1601)
    below, step = ndtr(at), at[1] - at[0]
    # A place lies within the range when not all values are on one side of it.
    d2 = float((1.0 - below**n - (1.0 - below) ** n).sum()) * step
    low, high = np.minimum.outer(below, below), np.maximum.outer(below, below)
    both = 1.0 - (1.0 - low) ** n - high**n + (high - low) ** n
    return d2, math.sqrt(float(both.sum()) * step**2 - d2**2)
