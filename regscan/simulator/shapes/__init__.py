"""The shapes as drawn: for each, how far a point lies outside its outline.

A drawing is two functions of the shape and of places about its centre, in the
shape's own unturned axes: `distance_mm` (negative inside, zero on the outline)
and `reach_mm` (radius of a circle about the centre that holds it all).
A new shape is one file and one line here.
"""

import math
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from regscan.job.layout import (
    Bar,
    Cross,
    Diamond,
    Disc,
    Polygon,
    Ring,
    Shape,
    Square,
    Triangle,
)
from regscan.simulator.shapes import bar, cross, diamond, disc, polygon, ring, square, triangle


class Outline(NamedTuple):
    """One shape with its turn: distance in the web's axes about the mark's centre."""

    shape: Shape

    def distance_mm(self, circumferential_mm: np.ndarray, lateral_mm: np.ndarray) -> np.ndarray:
        """Signed distance from the outline, mm, negative inside."""
        turn = math.radians(getattr(self.shape, "turn_deg", 0.0))
        cos, sin = math.cos(turn), math.sin(turn)
        along = circumferential_mm * cos + lateral_mm * sin
        across = lateral_mm * cos - circumferential_mm * sin
        return DISTANCES[type(self.shape)](self.shape, along, across)

    @property
    def half_box_mm(self) -> tuple[float, float]:
        """Half the sides (circumferential, lateral) of a box about the centre that holds it, mm."""
        if not isinstance(self.shape, Bar):
            return self.reach_mm, self.reach_mm
        along, across = bar.half_size_mm(self.shape)
        turn = math.radians(self.shape.turn_deg)
        cos, sin = abs(math.cos(turn)), abs(math.sin(turn))
        return along * cos + across * sin, along * sin + across * cos

    @property
    def reach_mm(self) -> float:
        """Radius about the centre within which the whole shape lies, mm."""
        return REACHES[type(self.shape)](self.shape)


_FILES = {
    Bar: bar,
    Cross: cross,
    Diamond: diamond,
    Disc: disc,
    Polygon: polygon,
    Ring: ring,
    Square: square,
    Triangle: triangle,
}
DISTANCES: dict[type, Callable[[Any, np.ndarray, np.ndarray], np.ndarray]] = {
    shape: file.distance_mm for shape, file in _FILES.items()
}
REACHES: dict[type, Callable[[Any], float]] = {
    shape: file.reach_mm for shape, file in _FILES.items()
}
