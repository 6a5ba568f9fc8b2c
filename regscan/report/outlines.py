"""Mark shapes as outlines to be drawn on the page, in mm about the mark's place."""

import math
from collections.abc import Sequence

from regscan.job.layout import Bar, Cross, Diamond, Disc, Polygon, Ring, Shape, Square, Triangle

Point = tuple[float, float]  # (circumferential, lateral)
_CORNERS = 48  # a circle on a page needs no more


def outlines(shape: Shape) -> list[list[Point]]:
    """Closed outlines of (circumferential, lateral) points; holes by the even-odd rule."""
    match shape:
        case Disc(diameter):
            return [_circle(diameter)]
        case Ring(diameter, inner):
            return [_circle(diameter), _circle(inner)]
        case Cross(size, stroke, turn):
            return [_turned(_cross(size / 2, stroke / 2), turn)]
        case Square(side, turn):
            return [_turned(_box(side / 2, side / 2), turn)]
        case Diamond(along, across, turn):
            return [_turned(_rhombus(along / 2, across / 2), turn)]
        case Bar(length, width, turn):
            return [_turned(_box(width / 2, length / 2), turn)]
        case Triangle(side, turn):
            reach = side / math.sqrt(3)
            return [_turned(_round([reach] * 3), turn)]
        case Polygon(points, turn):
            return [_turned(points, turn)]


def _round(radii: Sequence[float]) -> list[Point]:
    step = 2 * math.pi / len(radii)
    return [(r * math.cos(k * step), r * math.sin(k * step)) for k, r in enumerate(radii)]


def _circle(diameter: float) -> list[Point]:
    return _round([diameter / 2] * _CORNERS)


def _box(along: float, across: float) -> list[Point]:
    return [(-along, -across), (-along, across), (along, across), (along, -across)]


def _rhombus(along: float, across: float) -> list[Point]:
    return [(along, 0.0), (0.0, across), (-along, 0.0), (0.0, -across)]


def _cross(half: float, stroke: float) -> list[Point]:
    arm = [(half, -stroke), (half, stroke), (stroke, stroke)]
    corners: list[Point] = []
    for turn in (0, 90, 180, 270):
        corners += _turned(arm, turn)
    return corners


def _turned(points: Sequence[Point], turn_deg: float) -> list[Point]:
    """Turned from + circumferential toward + lateral."""
    cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    return [(a * cos - b * sin, a * sin + b * cos) for a, b in points]
