"""Signals: how a cause goes with the run. What the size is measured in, its user says.

Every signal is one record with `at(passage)`; `size` is its first field and it is
linear in it, so that a signal of twice the size has twice the effect.
"""

from dataclasses import dataclass
from typing import ClassVar, Protocol

import numpy as np

from regscan.simulator.press.passage import Passage


class Signal(Protocol):
    """Anything that turns moments into amounts. `kind` names the term that it is."""

    kind: ClassVar[str]

    @property
    def size(self) -> float: ...  # noqa: D102

    def at(self, passage: Passage, /) -> np.ndarray:
        """The amount at each moment."""


@dataclass(frozen=True, slots=True)
class Always:
    """The same throughout."""

    size: float
    kind: ClassVar[str] = "constant"

    def at(self, passage: Passage, /) -> np.ndarray:
        """The amount at each moment."""
        return np.full(passage.web_m.shape, self.size)


@dataclass(frozen=True, slots=True)
class StepAt:
    """From at_m of web on, there at once or over rise_m (1 - exp); gone again from back_m on."""

    size: float
    at_m: float
    rise_m: float = 0.0
    back_m: float | None = None
    kind: ClassVar[str] = "step"

    def at(self, passage: Passage, /) -> np.ndarray:
        """The amount at each moment."""
        since = passage.web_m - self.at_m
        share = np.where(since >= 0.0, 1.0, 0.0)
        if self.rise_m > 0.0:
            share = -np.expm1(-np.maximum(since, 0.0) / self.rise_m)
        if self.back_m is not None:
            share = np.where(passage.web_m < self.back_m, share, 0.0)
        return self.size * share


@dataclass(frozen=True, slots=True)
class Blip:
    """A jump at at_m of web that dies away over length_m (exp)."""

    size: float
    at_m: float
    length_m: float
    kind: ClassVar[str] = "blip"

    def at(self, passage: Passage, /) -> np.ndarray:
        """The amount at each moment."""
        since = passage.web_m - self.at_m
        fade = np.exp(-np.maximum(since, 0.0) / self.length_m)
        return np.where(since >= 0.0, self.size * fade, 0.0)


@dataclass(frozen=True, slots=True)
class Creep:
    """Grows by size per metre of web, one way, from from_m to to_m; stays then."""

    size: float
    from_m: float = 0.0
    to_m: float = np.inf
    kind: ClassVar[str] = "drift"

    def at(self, passage: Passage, /) -> np.ndarray:
        """The amount at each moment."""
        return np.asarray(
            self.size * (np.clip(passage.web_m, self.from_m, self.to_m) - self.from_m)
        )


@dataclass(frozen=True, slots=True)
class WithSpeed:
    """Size for every m/min above zero_m_min. With an onset, only what lies above it counts."""

    size: float
    zero_m_min: float = 0.0
    onset_m_min: float = 0.0
    kind: ClassVar[str] = "speed"

    def at(self, passage: Passage, /) -> np.ndarray:
        """The amount at each moment."""
        zero = max(self.zero_m_min, self.onset_m_min)
        return np.asarray(self.size * (np.maximum(passage.speed_m_min, self.onset_m_min) - zero))


@dataclass(frozen=True, slots=True)
class WithGain:
    """Size for every m/s^2 of acceleration."""

    size: float
    kind: ClassVar[str] = "acceleration"

    def at(self, passage: Passage, /) -> np.ndarray:
        """The amount at each moment."""
        return np.asarray(self.size * passage.gain_m_s2)
