"""The outline of each mark shape as polygons, in mm about the mark's place.

Points are (circumferential, lateral). Several polygons of one outline are
filled by the even-odd rule, so a ring is two circles. The simulator draws the
same shapes by other means: the two must never share this code.
"""

import math
from collections.abc import Callable
from typing import Any

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

Outline = tuple[np.ndarray, ...]

# Enough corners that a circle's outline is right to r * 1.2e-5 (under 1 nm at 0.1 mm).
_CIRCLE_CORNERS = 360


def _circle(diameter_mm: float) -> np.ndarray:
    angles = np.linspace(0.0, 2.0 * math.pi, _CIRCLE_CORNERS, endpoint=False)
    step = 2.0 * math.pi / _CIRCLE_CORNERS
    # The radius at which the polygon has the circle's area.
    radius = 0.5 * diameter_mm * math.sqrt(step / math.sin(step))
    return radius * np.stack([np.cos(angles), np.sin(angles)], axis=1)


def _rectangle(circumferential_mm: float, lateral_mm: float) -> np.ndarray:
    half = np.array([circumferential_mm, lateral_mm]) / 2.0
    return half * np.array([(-1, -1), (-1, 1), (1, 1), (1, -1)], dtype=float)


def _cross(cross: Cross) -> np.ndarray:
    arm, half = cross.size_mm / 2.0, cross.stroke_mm / 2.0
    quarter = np.array([(half, half), (arm, half), (arm, -half)])
    turns = [np.array([[0, -1], [1, 0]]), np.array([[-1, 0], [0, -1]]), np.array([[0, 1], [-1, 0]])]
    return np.concatenate([quarter, *(quarter @ turn for turn in turns)])


def _triangle(triangle: Triangle) -> np.ndarray:
    angles = np.radians([0.0, 120.0, 240.0])
    radius = triangle.side_mm / math.sqrt(3.0)
    return radius * np.stack([np.cos(angles), np.sin(angles)], axis=1)


def _diamond(diamond: Diamond) -> np.ndarray:
    half = np.array([diamond.circumferential_mm, diamond.lateral_mm]) / 2.0
    return half * np.array([(1, 0), (0, 1), (-1, 0), (0, -1)], dtype=float)


_POLYGONS: dict[type, Callable[[Any], Outline]] = {
    Disc: lambda s: (_circle(s.diameter_mm),),
    Ring: lambda s: (_circle(s.diameter_mm), _circle(s.inner_diameter_mm)),
    Cross: lambda s: (_cross(s),),
    Square: lambda s: (_rectangle(s.side_mm, s.side_mm),),
    Diamond: lambda s: (_diamond(s),),
    Bar: lambda s: (_rectangle(s.width_mm, s.length_mm),),
    Triangle: lambda s: (_triangle(s),),
    Polygon: lambda s: (np.array(s.points_mm, dtype=float),),
}


def outline_mm(shape: Shape) -> Outline:
    """The polygons (each N x 2, circumferential and lateral mm) of a shape, turned as designed."""
    turn = math.radians(getattr(shape, "turn_deg", 0.0))
    # turn_deg goes from + circumferential toward + lateral.
    matrix = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    return tuple(polygon @ matrix for polygon in _POLYGONS[type(shape)](shape))


def area_mm2(shape: Shape) -> float:
    """Printed area of a shape as designed."""
    areas = sorted((abs(_signed_area(p)) for p in outline_mm(shape)), reverse=True)
    return areas[0] - sum(areas[1:])


def _signed_area(polygon: np.ndarray) -> float:
    along, across = polygon.T
    return 0.5 * float(np.dot(along, np.roll(across, -1)) - np.dot(across, np.roll(along, -1)))


def centroid_mm(polygon: np.ndarray) -> np.ndarray:
    """Centre of area of one simple polygon, (circumferential, lateral) mm."""
    after = np.roll(polygon, -1, axis=0)
    cross = polygon[:, 0] * after[:, 1] - after[:, 0] * polygon[:, 1]
    return np.asarray(((polygon + after) * cross[:, None]).sum(axis=0) / (3.0 * cross.sum()))
