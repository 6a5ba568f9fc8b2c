"""Shapes: how something goes with the run. Sizes are what the fit finds.

Every shape is a function of the moments (of printing, mostly) and gives an array like them.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from regscan.drift.model.clocks import Moments

Setting = tuple[tuple[str, float], ...]
USUAL_M_MIN = 100.0  # speed at which a dose counts as one
SLOWEST_M_MIN = 2.0


@dataclass(frozen=True, slots=True)
class Shape:
    """A kind of shape with its own settings (time constants, places), the size left open."""

    kind: str
    setting: Setting = ()

    @property
    def settings(self) -> dict[str, float]:
        """The settings by name."""
        return dict(self.setting)

    def at(self, moments: Moments) -> np.ndarray:
        """The shape at these moments; what it needs of the clock must be known."""
        return np.asarray(SHAPES[self.kind](moments, **dict(self.setting)))

    def but(self, **settings: float) -> "Shape":
        """The same shape with other settings."""
        return Shape(self.kind, tuple((self.settings | settings).items()))


def shape(kind: str, **settings: float) -> Shape:
    """A shape by its kind and settings."""
    return Shape(kind, tuple(settings.items()))


def known(values: np.ndarray | None) -> np.ndarray:
    """A clock that the run has; the menu offers no shape whose clock it has not."""
    assert values is not None
    return values


def _speed_above(m: Moments, onset_m_min: float) -> np.ndarray:
    return np.maximum(known(m.speed_m_min) - onset_m_min, 0.0)


def _dose(m: Moments, tau_s: float, power: float, fast: float) -> np.ndarray:
    warm = fast + (1.0 - fast) * _warm_up(m, tau_s) if fast < 1.0 else 1.0
    return warm * (USUAL_M_MIN / np.maximum(known(m.speed_m_min), SLOWEST_M_MIN)) ** power


def _warm_up(m: Moments, tau_s: float) -> np.ndarray:
    return -np.expm1(-np.maximum(known(m.time_s), 0.0) / tau_s)


def _step(m: Moments, at_m: float, rise_m: float = 0.0) -> np.ndarray:
    since = known(m.web_m) - at_m
    if rise_m <= 0.0:
        return np.where(since >= 0.0, 1.0, 0.0)
    return -np.expm1(-np.maximum(since, 0.0) / rise_m)


def _creep_between(m: Moments, from_m: float, to_m: float = np.inf) -> np.ndarray:
    return (np.clip(known(m.web_m), from_m, to_m) - from_m) / 1000.0


def _blip(m: Moments, at_m: float, length_m: float) -> np.ndarray:
    since = known(m.sheet_m) - at_m
    return np.where(since >= 0.0, np.exp(-np.maximum(since, 0.0) / length_m), 0.0)


def _wave(m: Moments, length_m: float, quarter: float) -> np.ndarray:
    return np.cos(2.0 * np.pi * known(m.web_m) / length_m - quarter * np.pi / 2.0)


def _swing(m: Moments, period_s: float, quarter: float) -> np.ndarray:
    return np.cos(2.0 * np.pi * known(m.time_s) / period_s - quarter * np.pi / 2.0)


def _round(m: Moments, order: float, quarter: float) -> np.ndarray:
    return np.cos(2.0 * np.pi * order * known(m.round_share) - quarter * np.pi / 2.0)


def _roll(m: Moments, diameter_m: float, thickness_um: float, quarter: float) -> np.ndarray:
    """One wave per turn of the supply roll; a metre of web takes thickness * 1 m off its face."""
    thick = thickness_um * 1e-6
    square = diameter_m**2 - 4.0 * thick * known(m.web_m) / np.pi
    diameter = np.sqrt(np.maximum(square, (0.2 * diameter_m) ** 2))
    turns = (diameter_m - diameter) / (2.0 * thick)
    return np.cos(2.0 * np.pi * turns - quarter * np.pi / 2.0)


SHAPES: dict[str, Callable[..., np.ndarray]] = {
    "speed": lambda m: known(m.speed_m_min),
    "speed above": _speed_above,
    "speed seen": lambda m: known(m.frame_speed_m_min),
    "dose": _dose,
    "acceleration": lambda m: known(m.gain_m_s2),
    "after slowing": lambda m: np.where(known(m.direction) < 0.0, 1.0, 0.0),
    "while slowing": lambda m: np.where(known(m.gain_m_s2) < 0.0, 1.0, 0.0),
    "drift": lambda m: known(m.time_s) / 60.0,
    "warm-up": _warm_up,
    "creep": lambda m: known(m.web_m) / 1000.0,
    "creep from": _creep_between,
    "creep between": _creep_between,
    "step": _step,
    "blip": _blip,
    "wave": _wave,
    "swing": _swing,
    "round": _round,
    "turned": lambda m: known(m.round_share) - 0.5,
    "roll": _roll,
    "step frame": lambda m, at_frame: np.where(m.order >= at_frame, 1.0, 0.0),
    "drift frame": lambda m: m.order / 1000.0,
}
"""Sizes are mm, but per m/min (speed), per m/s^2 (acceleration), per minute (drift), per km
(creep), per 1000 frames (drift frame), and at 100 m/min (dose). For strain they are m: mm
per 1000 ppm."""
