"""Average run lengths of the two charts on independent normal noise, and limits from them.

Frames until a chart signals, on the mean, solved from its integral equation by Gauss-Legendre
quadrature (Goel and Wu 1971 for the cusum, Crowder 1987 for the EWMA).
"""

import math
from collections.abc import Callable
from functools import lru_cache

import numpy as np

NODES = 80


@lru_cache
def _nodes() -> tuple[np.ndarray, np.ndarray]:
    """Places and weights of the quadrature on -1 to 1."""
    places, weights = np.polynomial.legendre.leggauss(NODES)
    return places, weights


def ewma_run_length(weight: float, width: float, shift_sd: float = 0.0) -> float:
    """Two-sided EWMA with fixed limits at +-width of its own lasting standard deviations.

    shift_sd   how far the mean lies from the target, in noise of single frames.
    """
    limit = width * math.sqrt(weight / (2.0 - weight))
    nodes, weights = _nodes()
    at, share = limit * nodes, limit * weights
    # One frame takes the chart from u to z: z = (1 - weight) u + weight y, y ~ N(shift, 1).
    step = (at[None, :] - (1.0 - weight) * at[:, None]) / weight - shift_sd
    kernel = _density(step) / weight * share[None, :]
    lengths = np.linalg.solve(np.eye(NODES) - kernel, np.ones(NODES))
    start = _density(at / weight - shift_sd) / weight * share
    return float(1.0 + start @ lengths)


def cusum_run_length(slack: float, limit: float, shift_sd: float = 0.0) -> float:
    """Two-sided cusum of frames in units of their noise, both sums from zero."""
    up, down = (_one_sided(slack, limit, shift) for shift in (shift_sd, -shift_sd))
    return 1.0 / (1.0 / up + 1.0 / down)


def _one_sided(slack: float, limit: float, shift: float) -> float:
    nodes, weights = _nodes()
    at, share = limit * (nodes + 1.0) / 2.0, limit * weights / 2.0
    # From the sum u: z = max(0, u + y - slack). All that would fall below zero starts anew.
    kernel = np.zeros((NODES + 1, NODES + 1))
    here = np.append(0.0, at)
    kernel[:, 1:] = _density(at[None, :] - here[:, None] + slack - shift) * share[None, :]
    kernel[:, 0] = [_below(slack - shift - u) for u in here]
    return float(np.linalg.solve(np.eye(NODES + 1) - kernel, np.ones(NODES + 1))[0])


@lru_cache
def ewma_width_for(weight: float, frames: float) -> float:
    """The width with which calm print signals once in so many frames."""
    return _solved(lambda width: ewma_run_length(weight, width), frames, 0.5, 7.0)


@lru_cache
def cusum_limit_for(slack: float, frames: float) -> float:
    """The limit with which calm print signals once in so many frames."""
    return _solved(lambda limit: cusum_run_length(slack, limit), frames, 0.5, 25.0 / slack)


def _solved(length: Callable[[float], float], frames: float, low: float, high: float) -> float:
    """Where a run length that grows reaches `frames`, by halving."""
    for _ in range(36):
        middle = (low + high) / 2.0
        found = length(middle)
        # Beyond what double precision can tell from never, the solution turns negative.
        low, high = (middle, high) if 0.0 < found < frames else (low, middle)
    return (low + high) / 2.0


def _density(z: np.ndarray) -> np.ndarray:
    result: np.ndarray = np.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
    return result


def _below(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2.0))
