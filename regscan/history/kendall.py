"""Has it risen or fallen? Kendall's test within groups, and the Theil-Sen slope with its interval.

Only runs of one group (the same job against the same reference) are compared with each other,
so that a change in the mix of jobs is no trend: the seasonal Kendall test of Hirsch, Slack and
Smith (1982), with jobs in place of seasons (from memory; the test without groups is held
against scipy's kendalltau and theilslopes). Nothing is assumed of how values scatter: only
their order counts, so one bad run does no harm.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

EXACT_PAIRS = 4000
"""Up to so many pairs, and without ties, probabilities are exact; the normal law beyond."""


@dataclass(frozen=True, slots=True)
class Slope:
    """Robust change per unit of time, with the interval that holds it 95 times in 100.

    p   probability of so clear an order, either way, where nothing changes.
    """

    per_time: float
    low: float
    high: float
    p: float
    pairs: int


Group = tuple[np.ndarray, np.ndarray]


def slope_of(groups: Sequence[Group]) -> Slope | None:
    """The common slope of several groups of (times, values); None without two times to compare.

    Groups share slope and nothing else: each may lie at its own level.
    """
    pairs = [_pairs(times, values) for times, values in groups if len(times) > 1]
    slopes = np.sort(np.concatenate([slopes for slopes, _ in pairs])) if pairs else np.empty(0)
    if not len(slopes):
        return None
    score = float(sum(signs for _, signs in pairs))
    used = [group for group in groups if len(group[0]) > 1]
    variance = sum(_variance(times, values) for times, values in used)
    reach = 1.959964 * math.sqrt(variance)
    low, high = (len(slopes) - reach) / 2.0, (len(slopes) + reach) / 2.0 - 1.0
    places = np.clip([math.floor(low), math.ceil(high)], 0, len(slopes) - 1)
    return Slope(
        per_time=float(np.median(slopes)),
        low=float(slopes[places[0]]),
        high=float(slopes[places[1]]),
        p=_probability(score, variance, used),
        pairs=len(slopes),
    )


def _pairs(times: np.ndarray, values: np.ndarray) -> tuple[np.ndarray, float]:
    """Slopes of all pairs at different times, and Kendall's score: risen less fallen pairs."""
    early, late = np.triu_indices(len(times), 1)
    apart, rise = times[late] - times[early], values[late] - values[early]
    told = apart != 0
    return rise[told] / apart[told], float(np.sign(rise * np.sign(apart)).sum())


def _variance(times: np.ndarray, values: np.ndarray) -> float:
    """Of the score where nothing changes, ties in times and values counted (Kendall 1970)."""
    n = len(times)
    t, u = _ties(times), _ties(values)
    base = n * (n - 1) * (2 * n + 5)
    one = base - (t * (t - 1) * (2 * t + 5)).sum() - (u * (u - 1) * (2 * u + 5)).sum()
    two = (t * (t - 1)).sum() * (u * (u - 1)).sum() / (2.0 * n * (n - 1))
    three = 0.0
    if n > 2:
        both = (t * (t - 1) * (t - 2)).sum() * (u * (u - 1) * (u - 2)).sum()
        three = both / (9.0 * n * (n - 1) * (n - 2))
    return float(one / 18.0 + two + three)


def _ties(values: np.ndarray) -> np.ndarray:
    counts = np.unique(values, return_counts=True)[1].astype(float)
    return counts[counts > 1]


def _probability(score: float, variance: float, groups: Sequence[Group]) -> float:
    if variance <= 0.0:
        return 1.0  # all alike: nothing has changed
    pairs = sum(len(times) * (len(times) - 1) // 2 for times, _ in groups)
    tied = any(len(_ties(values)) or len(_ties(times)) for times, values in groups)
    if pairs <= EXACT_PAIRS and not tied:
        return _exact(score, [len(times) for times, _ in groups])
    beyond = max(abs(score) - 1.0, 0.0) / math.sqrt(variance)
    return math.erfc(beyond / math.sqrt(2.0))


def _exact(score: float, sizes: Sequence[int]) -> float:
    """Two-sided, from the number of ways to order each group with so many falling pairs."""
    falling = np.ones(1)
    for size in sizes:
        for k in range(2, size + 1):
            falling = np.convolve(falling, np.full(k, 1.0 / k))
    pairs = len(falling) - 1
    scores = pairs - 2.0 * np.arange(pairs + 1)
    return float(min(falling[np.abs(scores) >= abs(score) - 0.5].sum(), 1.0))


def holm(probabilities: Sequence[float]) -> list[float]:
    """Probabilities corrected for having asked so many questions (Holm 1979).

    Whoever acts below 0.05 is wrong about anything at all at most 5 times in 100.
    """
    order = np.argsort(probabilities, kind="stable")
    corrected, reached = [0.0] * len(probabilities), 0.0
    for rank, place in enumerate(order):
        reached = max(reached, min((len(probabilities) - rank) * probabilities[place], 1.0))
        corrected[place] = reached
    return corrected
