"""Signals that come again: in metres of web, in seconds, round the repeat, per turn of the roll."""

import math
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from regscan.simulator.press.passage import Passage


@dataclass(frozen=True, slots=True)
class WaveM:
    """size * cos(2 pi web / wavelength_m + phase_rad): a roller or gear that is not round."""

    size: float
    wavelength_m: float
    phase_rad: float = 0.0
    kind: ClassVar[str] = "period in metres"

    @property
    def per_m(self) -> float:
        """Radians per metre of web."""
        return 2.0 * math.pi / self.wavelength_m

    def at(self, passage: Passage, /) -> np.ndarray:
        """The amount at each moment."""
        return np.asarray(self.size * np.cos(self.per_m * passage.web_m + self.phase_rad))


@dataclass(frozen=True, slots=True)
class WaveS:
    """size * cos(2 pi time / period_s + phase_rad): a control loop that hunts."""

    size: float
    period_s: float
    phase_rad: float = 0.0
    kind: ClassVar[str] = "period in seconds"

    def at(self, passage: Passage, /) -> np.ndarray:
        """The amount at each moment."""
        turn = 2.0 * math.pi * passage.time_s / self.period_s + self.phase_rad
        return np.asarray(self.size * np.cos(turn))


@dataclass(frozen=True, slots=True)
class RoundWave:
    """A sine round the repeat: a plate cylinder that is not round, `order` waves a turn.

    Marks at one place round the repeat all see one and the same value.
    """

    size: float
    repeat_m: float
    order: int = 1
    phase_rad: float = 0.0
    kind: ClassVar[str] = "round the repeat"

    def at(self, passage: Passage, /) -> np.ndarray:
        """The amount at each moment."""
        turn = 2.0 * math.pi * self.order * passage.round_m / self.repeat_m + self.phase_rad
        return np.asarray(self.size * np.sin(turn))


@dataclass(frozen=True, slots=True)
class RoundLine:
    """Runs by size per metre round the repeat, zero in its middle: a plate put on turned."""

    size: float
    repeat_m: float
    kind: ClassVar[str] = "round the repeat"

    def at(self, passage: Passage, /) -> np.ndarray:
        """The amount at each moment."""
        return np.asarray(self.size * (passage.round_m - self.repeat_m / 2.0))


@dataclass(frozen=True, slots=True)
class RollTurn:
    """One wave per turn of the supply roll, whose girth shrinks as it unwinds.

    diameter_m     of the roll at the start of the run.
    thickness_um   of the web; a metre of web takes thickness * 1 m off the roll's face.
    """

    size: float
    diameter_m: float
    thickness_um: float
    phase_rad: float = 0.0
    kind: ClassVar[str] = "turn of the roll"

    def at(self, passage: Passage, /) -> np.ndarray:
        """The amount at each moment."""
        thick = self.thickness_um * 1e-6
        square = self.diameter_m**2 - 4.0 * thick * passage.web_m / math.pi
        # A core is left: the roll never shrinks below a quarter of what it was.
        diameter = np.sqrt(np.maximum(square, (self.diameter_m / 4.0) ** 2))
        # Angle = integral of dx / radius with the radius shrinking evenly per turn.
        angle = math.pi * (self.diameter_m - diameter) / thick
        return np.asarray(self.size * np.cos(angle + self.phase_rad))
