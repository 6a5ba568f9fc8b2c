"""Marks that get lost where a splice went through."""

from collections.abc import Sequence

import numpy as np

from regscan.simulator.press.effects import Effect, Loss
from regscan.simulator.press.machine import Machine


def lost_marks(
    machine: Machine,
    effects: Sequence[Effect],
    web_m: np.ndarray,
    camera: str,
    rng: np.random.Generator,
) -> np.ndarray:
    """stations x frames: True for a mark that is not there. web_m   at the camera."""
    shape = machine.stations, web_m.size
    lost = np.zeros(shape, dtype=bool)
    at_first = web_m - machine.age_m(camera)[0]
    for loss in effects:
        if isinstance(loss, Loss):
            about = np.abs(at_first - loss.at_m) <= loss.length_m / 2.0
            lost |= about & (rng.random(shape) < loss.chance)
    return lost
