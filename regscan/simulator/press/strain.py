"""Two ways to solve the same web: step by step along it, and as one wave.

Both know operations, and the layouts are written in those:
    accumulate(u)            integral of u over web metres
    settle(u, length_m)      y of  length * dy/dx = u - y   (one span of web, first order)
and growth(y), how fast y grows at the first place, for a start that is already settled.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np


class Solver(Protocol):
    """The operations, on arrays whose last axis runs along the web."""

    def accumulate(self, rate: np.ndarray) -> np.ndarray: ...  # noqa: D102
    def settle(  # noqa: D102
        self, drive: np.ndarray, length_m: float, start: float
    ) -> np.ndarray: ...
    def growth(self, values: np.ndarray) -> float: ...  # noqa: D102


@dataclass(frozen=True, slots=True)
class Steps:
    """Equal steps of web. Exact for amounts that run straight from point to point, which
    holds the exact form for steady input (a = exp(-step/length)) as its special case [D]."""

    step_m: float

    def accumulate(self, rate: np.ndarray) -> np.ndarray:
        """Integral from the first point on, of the straight lines between the points."""
        parts = 0.5 * self.step_m * (rate[..., 1:] + rate[..., :-1])
        first = np.zeros((*rate.shape[:-1], 1))
        return np.concatenate([first, np.cumsum(parts, axis=-1)], axis=-1)

    def settle(self, drive: np.ndarray, length_m: float, start: float) -> np.ndarray:
        """The span's answer; `start` is its value at the first point."""
        from scipy.signal import lfilter

        ratio = self.step_m / length_m
        keep = np.exp(-ratio)
        new = 1.0 - (1.0 - keep) / ratio
        old = (1.0 - keep) / ratio - keep
        answer, _ = lfilter([new, old], [1.0, -keep], drive, zi=[start - new * drive[0]])
        return np.asarray(answer)

    def growth(self, values: np.ndarray) -> float:
        """Per metre, at the first point."""
        return float((values[1] - values[0]) / self.step_m)


@dataclass(frozen=True, slots=True)
class Wave:
    """Amounts that go as exp(i per_m x) for ever: complex sizes, exact at any wavelength [D]."""

    per_m: float

    def accumulate(self, rate: np.ndarray) -> np.ndarray:
        """Integral over web metres."""
        return np.asarray(rate / (1j * self.per_m))

    def settle(self, drive: np.ndarray, length_m: float, start: float) -> np.ndarray:
        """The span's answer."""
        return np.asarray(drive / (1.0 + 1j * self.per_m * length_m))

    def growth(self, values: np.ndarray) -> float:
        """A wave has no start."""
        return 0.0
