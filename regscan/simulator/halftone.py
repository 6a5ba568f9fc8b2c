"""Halftone: an outline filled with screen dots instead of solid ink."""

import math
from typing import NamedTuple

import numpy as np

from regscan.simulator.defects import Halftone
from regscan.simulator.shapes import Outline


class Screened(NamedTuple):
    """An outline and the screen in it; stands wherever an outline does."""

    outline: Outline
    screen: Halftone

    def distance_mm(self, circumferential_mm: np.ndarray, lateral_mm: np.ndarray) -> np.ndarray:
        """Signed distance from the nearest printed edge, mm, negative in the dots."""
        whole = self.outline.distance_mm(circumferential_mm, lateral_mm)
        return np.maximum(whole, dot_distance_mm(self.screen, circumferential_mm, lateral_mm))

    @property
    def half_box_mm(self) -> tuple[float, float]:
        """As the outline's."""
        return self.outline.half_box_mm

    @property
    def reach_mm(self) -> float:
        """As the outline's."""
        return self.outline.reach_mm


def dot_distance_mm(screen: Halftone, along: np.ndarray, across: np.ndarray) -> np.ndarray:
    """Signed distance from the nearest dot's edge, mm, negative in the ink."""
    period = 10.0 / screen.lines_per_cm
    turn = math.radians(screen.angle_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    from_middle = []
    for place, phase in (
        (along * cos + across * sin, screen.phase[0]),
        (across * cos - along * sin, screen.phase[1]),
    ):
        cells = place / period - phase
        from_middle.append((cells - np.round(cells)) * period)
    radius = np.hypot(*from_middle)
    if screen.tint <= 0.5:
        return np.asarray(radius - period * math.sqrt(screen.tint / math.pi))
    return np.asarray(period * math.sqrt((1.0 - screen.tint) / math.pi) - radius)
