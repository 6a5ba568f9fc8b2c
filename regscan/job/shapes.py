"""The shapes by their names in the job file, how large each is, and what makes one impossible."""

import math
from collections.abc import Iterator

from regscan.errors import Problem
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
from regscan.job.polygon import polygon_faults

SHAPES: dict[str, type[Shape]] = {
    "disc": Disc,
    "ring": Ring,
    "cross": Cross,
    "square": Square,
    "diamond": Diamond,
    "bar": Bar,
    "triangle": Triangle,
    "polygon": Polygon,
}


def extent_mm(shape: Shape) -> float:
    """Largest measure of a shape in mm: how far its ink reaches from end to end."""
    match shape:
        case Disc(diameter) | Ring(diameter, _):
            return diameter
        case Cross(size, _, _):
            return size
        case Square(side, _):
            return math.sqrt(2.0) * side
        case Diamond(circumferential, lateral, _):
            return max(circumferential, lateral)
        case Bar(length, width, _):
            return math.hypot(length, width)
        case Triangle(side, _):
            return side
        case Polygon(points, _):
            return max(math.dist(p, q) for p in points for q in points)


def shape_faults(shape: Shape) -> Iterator[Problem]:
    """What makes a shape impossible to draw; the place is the key within the mark."""
    match shape:
        case Ring(outer, inner) if inner >= outer:
            what = f"the hole ({inner:g} mm) is not smaller than the ring ({outer:g} mm)"
            yield Problem("inner_diameter_mm", what, "make it smaller than diameter_mm")
        case Cross(size, stroke, _) if stroke >= size:
            what = f"the stroke ({stroke:g} mm) is not thinner than the cross ({size:g} mm)"
            yield Problem("stroke_mm", what, "make it smaller than size_mm")
        case Polygon(points, _):
            for what, cure in polygon_faults(points):
                yield Problem("points_mm", what, cure)
