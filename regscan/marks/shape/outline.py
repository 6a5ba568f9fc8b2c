"""The outline of each mark shape as polygons, in mm about the mark's place.

Points are (circumferential, lateral). Several polygons of one outline are
filled by the even-odd rule, so a ring is two circles. The simulator draws the
same shapes by other means: the two must never share this code.
"""

import math
from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numpy as np

from regscan.camera.camera import Camera
from regscan.camera.lens import Lens
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

# A circle's outline is then right to 1.5e-4 of its radius, all round alike: under 0.1 um.
_CIRCLE_CORNERS = 180


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


@lru_cache(maxsize=128)
def area_mm2(shape: Shape) -> float:
    """Printed area of a shape as designed."""
    return outline_area(outline_mm(shape))


def grown_ratio(shape: Shape, camera: Camera, growth_px: float, length_px: float) -> float:
    """A shape's area over the design's where its edges, of this length, lie so far outside."""
    area_px = area_mm2(shape) / (camera.row_mm_per_px * camera.col_mm_per_px)
    return 1.0 + growth_px * length_px / area_px


def grown(outline: Outline, growth: float) -> Outline:
    """Every edge moved outward by `growth` (same unit), corners kept sharp; holes shrink."""
    if growth == 0.0:
        return outline
    body = max(outline, key=lambda p: abs(signed_area(p)))
    return tuple(
        _offset_polygon(polygon, growth if polygon is body else -growth) for polygon in outline
    )


def _offset_polygon(polygon: np.ndarray, distance: float) -> np.ndarray:
    along = np.roll(polygon, -1, axis=0) - polygon
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    turned = 1.0 if signed_area(polygon) > 0.0 else -1.0
    outward = turned * np.stack([along[:, 1], -along[:, 0]], axis=1)
    before = np.roll(outward, 1, axis=0)
    # Where two moved edges meet: along the bisector, longer the sharper the corner.
    reach = 1.0 + (outward * before).sum(axis=1, keepdims=True)
    return np.asarray(polygon + distance * (outward + before) / np.maximum(reach, 0.2))


def outline_area(outline: Outline) -> float:
    """Area of the body less that of its holes."""
    areas = sorted((abs(signed_area(p)) for p in outline), reverse=True)
    return areas[0] - sum(areas[1:])


def signed_area(polygon: np.ndarray) -> float:
    """Area of a simple polygon; positive when it turns from the first axis to the second."""
    first, second = polygon.T
    return 0.5 * float(first @ np.roll(second, -1) - second @ np.roll(first, -1))


def outline_length(outline: Outline) -> float:
    """Length of all its edges, holes included."""
    return sum(float(np.linalg.norm(p - np.roll(p, -1, axis=0), axis=1).sum()) for p in outline)


def outline_px(shape: Shape, camera: Camera, growth_px: float = 0.0) -> Outline:
    """A shape's outline as (row, col) px about its centre, as this camera sees it.

    growth_px   how far every edge has spread outward on the web, in pixels of the mean size.
    Where the camera has a lens, the shape is drawn as it appears at pixel (0, 0); see
    Camera.near.
    """
    inverse = np.linalg.inv(np.array(camera.matrix))
    spread = grown(outline_mm(shape), growth_px * camera.mm_per_px)
    polygons = tuple(polygon @ inverse.T for polygon in spread)
    if camera.lens is not None:
        polygons = tuple(_bent(polygon, camera.lens) for polygon in polygons)
    return polygons


def outline_length_px(outline: Outline, camera: Camera) -> float:
    """Length of an outline (px) in pixels of the mean size: also the px^2 by which its area grows
    per px of growth, see `spread_of`."""
    even = np.array(camera.matrix) / camera.mm_per_px
    return outline_length(tuple(polygon @ even.T for polygon in outline))


def spread_of(outward: np.ndarray, camera: Camera) -> np.ndarray:
    """Px by which edges facing outward (... x 2 steps of 1 px, rows and columns) move per px of
    growth. Ink spreads alike on the web; growth is in pixels of the mean size, and where pixels
    are not square an edge moves over more of the narrow ones."""
    even = np.array(camera.matrix) / camera.mm_per_px
    return np.asarray(np.linalg.norm(outward @ np.linalg.inv(even), axis=-1))


def _bent(polygon: np.ndarray, lens: Lens) -> np.ndarray:
    """A polygon about a mark's centre as the lens shows it, the mark being at pixel (0, 0)."""
    row, col = lens.straight(0.0, 0.0)
    return np.stack(lens.seen(polygon[:, 0] + row, polygon[:, 1] + col), axis=1)
