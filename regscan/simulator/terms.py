"""Terms: the ways in which a station's print can move along a run. Each is one record.

A term gives mm of offset (signs as everywhere) for the moments at which a
station *printed*; the offsets of a station and axis are the sum of its terms.
A new behaviour, such as strain carried along by the web, is one more record
with the same `at`.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np


@dataclass(frozen=True, slots=True)
class Moments:
    """When and how fast a station printed the marks of each frame; arrays of one length.

    direction   +1 when the speed last rose, -1 when it last fell, 0 before any change.
    """

    time_s: np.ndarray
    web_m: np.ndarray
    speed_m_min: np.ndarray
    direction: np.ndarray


class Term(Protocol):
    """Anything that turns printing moments into mm of offset."""

    def at(self, moments: Moments, rng: np.random.Generator, /) -> np.ndarray:
        """Offset in mm at each moment."""


@dataclass(frozen=True, slots=True)
class Constant:
    """Set-up or mounting: the same everywhere."""

    mm: float

    def at(self, moments: Moments, rng: np.random.Generator, /) -> np.ndarray:
        """Offset in mm at each moment."""
        return np.full(moments.web_m.shape, self.mm)


@dataclass(frozen=True, slots=True)
class BySpeed:
    """Proportional to speed; zero at zero_at_m_min."""

    mm_per_m_min: float
    zero_at_m_min: float = 0.0

    def at(self, moments: Moments, rng: np.random.Generator, /) -> np.ndarray:
        """Offset in mm at each moment."""
        return np.asarray(self.mm_per_m_min * (moments.speed_m_min - self.zero_at_m_min))


@dataclass(frozen=True, slots=True)
class Step:
    """A jump at at_m of web that stays, or goes back at back_m."""

    mm: float
    at_m: float
    back_m: float | None = None

    def at(self, moments: Moments, rng: np.random.Generator, /) -> np.ndarray:
        """Offset in mm at each moment."""
        on = moments.web_m >= self.at_m
        if self.back_m is not None:
            on &= moments.web_m < self.back_m
        return np.where(on, self.mm, 0.0)


@dataclass(frozen=True, slots=True)
class WarmUp:
    """Creeps toward mm with time constant tau_s, from time 0 on."""

    mm: float
    tau_s: float

    def at(self, moments: Moments, rng: np.random.Generator, /) -> np.ndarray:
        """Offset in mm at each moment."""
        since = np.maximum(moments.time_s, 0.0)
        return np.asarray(self.mm * (1.0 - np.exp(-since / self.tau_s)))


@dataclass(frozen=True, slots=True)
class Drift:
    """Grows evenly with the web."""

    mm_per_m: float

    def at(self, moments: Moments, rng: np.random.Generator, /) -> np.ndarray:
        """Offset in mm at each moment."""
        return self.mm_per_m * moments.web_m


@dataclass(frozen=True, slots=True)
class Play:
    """Two levels mm apart: +mm/2 after the speed fell, -mm/2 after it rose or before."""

    mm: float

    def at(self, moments: Moments, rng: np.random.Generator, /) -> np.ndarray:
        """Offset in mm at each moment."""
        return np.where(moments.direction < 0.0, self.mm / 2.0, -self.mm / 2.0)


@dataclass(frozen=True, slots=True)
class Jitter:
    """Even from print to print: independent normal scatter."""

    sd_mm: float

    def at(self, moments: Moments, rng: np.random.Generator, /) -> np.ndarray:
        """Offset in mm at each moment."""
        return self.sd_mm * rng.standard_normal(moments.web_m.shape)
