"""The signs drawn for one mark: what it measures, what is doubtful, what is missing."""

import numpy as np

from regscan.report.labels import Box
from regscan.report.pen import DARK, DOUBT, IN, OUT, Colour, Pen
from regscan.report.sights import Point, Sight

_DOUBT_REACH, _WIDEST = 1.3, 2.1  # of the triangle round a doubtful mark, in half marks
_RING = 1.5  # radius of the ring round a missing mark, in arms of its cross


def draw_sight(pen: Pen, sight: Sight) -> None:
    """Design place, tolerance, measured place and offset of one mark."""
    if sight.design is not None:
        _design(pen, sight, sight.design)
    if sight.status == "missing":
        _cross_out(pen, sight)
        return
    if sight.measured is not None:
        pen.plus(sight.measured, 0.45 * sight.half)
    if sight.status == "doubtful" and sight.measured is not None:
        _triangle(pen, sight.measured, _DOUBT_REACH * sight.half)
    if sight.design is not None and sight.tip is not None:
        colour = DOUBT if sight.status == "doubtful" else OUT if sight.outside else IN
        pen.line([sight.design, sight.tip], colour, 4.0)
        _end(pen, sight.tip, colour, sight.outside)


def _design(pen: Pen, sight: Sight, at: Point) -> None:
    """The outline where the mark should lie, and the enlarged tolerance about its place."""
    (x, y), (wide, high) = at, sight.box
    for part in sight.outline:
        pen.dashes([(x + dx, y + dy) for dx, dy in [*part, part[0]]], DARK, 1.0)
    if wide:
        corners = [(x - wide, y - high), (x + wide, y - high), (x + wide, y + high)]
        pen.line([*corners, (x - wide, y + high), corners[0]], DARK, 1.0)


def _triangle(pen: Pen, at: Point, reach: float) -> None:
    x, y = at
    corners = [(x, y - 1.6 * reach), (x + 1.5 * reach, y + reach), (x - 1.5 * reach, y + reach)]
    pen.dashes([*corners, corners[0]], DOUBT, 2.5)


def _end(pen: Pen, at: Point, colour: Colour, outside: bool) -> None:
    """A square at the end of an offset outside tolerance, a small stop at one inside."""
    x, y = at
    half = (6.0 if outside else 2.5) * pen.scale
    corners = [(x - half, y - half), (x + half, y - half), (x + half, y + half)]
    pen.line([*corners, (x - half, y + half), corners[0]], colour, 2.0)


def _arm(pen: Pen, sight: Sight) -> float:
    return sight.half + 8 * pen.scale


def _cross_out(pen: Pen, sight: Sight) -> None:
    if sight.design is None:
        return
    x, y = sight.design
    arm = _arm(pen, sight)
    pen.line([(x - arm, y - arm), (x + arm, y + arm)], OUT, 3.0)
    pen.line([(x - arm, y + arm), (x + arm, y - arm)], OUT, 3.0)
    angles = np.linspace(0, 2 * np.pi, 25)
    ring = [(x + _RING * arm * np.cos(a), y + _RING * arm * np.sin(a)) for a in angles]
    pen.dashes(ring, OUT, 2.0)


def around(pen: Pen, sight: Sight) -> Box:
    """The box round everything drawn for one mark, and round the mark itself."""
    reach = sight.half * (_WIDEST if sight.status == "doubtful" else 1.0)
    lost = _RING * _arm(pen, sight) if sight.status == "missing" else 0.0
    wide, high = (max(side, sight.half, lost) for side in sight.box)
    end = 8.0 * pen.scale
    extents = (
        (sight.measured, reach, reach),
        (sight.design, wide, high),
        (sight.tip, end, end),
    )
    return Box.around(Box.about(*place, x, y) for place, x, y in extents if place is not None)
