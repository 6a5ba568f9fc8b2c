"""Signals of heat: they go with time, and with how long the web dwells under a lamp."""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from regscan.simulator.press.passage import Passage


@dataclass(frozen=True, slots=True)
class Warming:
    """Creeps toward size with time constant tau_s, from from_s on (negative: cooling down)."""

    size: float
    tau_s: float
    from_s: float = 0.0
    kind: ClassVar[str] = "warm-up"

    def at(self, passage: Passage, /) -> np.ndarray:
        """The amount at each moment."""
        since = np.maximum(passage.time_s - self.from_s, 0.0)
        return np.asarray(-self.size * np.expm1(-since / self.tau_s))


@dataclass(frozen=True, slots=True)
class Dose:
    """What a lamp does to the web: size at at_m_min once everything is warm.

    tau_s        time constant of frame, reflector and drums that warm up.
    fast_share   part of it that is there at once (the lamp's own light and heat).
    dwell        how much of the dose a slower web takes up: 1 for a lamp of constant
                 power (dose goes with 1/speed), 0 for one that follows the speed.
    """

    size: float
    at_m_min: float
    tau_s: float
    fast_share: float = 0.0
    dwell: float = 0.0
    kind: ClassVar[str] = "warm-up"

    def at(self, passage: Passage, /) -> np.ndarray:
        """The amount at each moment."""
        warm = -np.expm1(-np.maximum(passage.time_s, 0.0) / self.tau_s)
        there = self.fast_share + (1.0 - self.fast_share) * warm
        return np.asarray(self.size * there * (self.at_m_min / passage.speed_m_min) ** self.dwell)


@dataclass(frozen=True, slots=True)
class Dwell:
    """What grows the longer the web dwells: size at at_m_min, goes with 1/speed to a power."""

    size: float
    at_m_min: float
    power: float = 1.0
    kind: ClassVar[str] = "dwell"

    def at(self, passage: Passage, /) -> np.ndarray:
        """The amount at each moment."""
        return np.asarray(self.size * (self.at_m_min / passage.speed_m_min) ** self.power)
