"""Mark sets of the families: separated ones in rows, and inks upon one another."""

from collections.abc import Mapping

from regscan.job.layout import (
    Bar,
    Cross,
    Diamond,
    Disc,
    MarkDesign,
    Ring,
    Shape,
    Square,
    Triangle,
)

Marks = tuple[MarkDesign, ...]

SIX_SHAPES: Mapping[str, Shape] = {
    "yellow": Square(0.54),
    "magenta": Ring(0.6, 0.28),
    "cyan": Cross(0.6, 0.22),
    "black": Disc(0.6),
    "green": Diamond(0.66, 0.66),
    "brown": Triangle(0.66),
}
SIX_DISCS: Mapping[str, Shape] = dict.fromkeys(SIX_SHAPES, Disc(0.7))
# Told apart by shape alone, whatever the colour.
SIX_FOR_MONO: Mapping[str, Shape] = {
    "yellow": Square(0.8, 20.0),
    "magenta": Ring(0.9, 0.5),
    "cyan": Cross(0.9, 0.25),
    "black": Disc(0.7),
    "green": Diamond(1.1, 0.7),
    "brown": Triangle(0.9),
}


def rows_of(shapes: Mapping[str, Shape], pitch_mm: float = 1.7, columns: int = 3) -> Marks:
    """Marks in rows of `columns`, in print order."""
    return tuple(
        MarkDesign(ink, shape, pitch_mm * (k // columns), pitch_mm * (k % columns))
        for k, (ink, shape) in enumerate(shapes.items())
    )


def at_one_place(shapes: Mapping[str, Shape]) -> Marks:
    """All marks upon one another, in print order."""
    return tuple(MarkDesign(ink, shape, 0.0, 0.0) for ink, shape in shapes.items())


def crosses(size_mm: float, stroke_mm: float, turns: Mapping[str, float]) -> Marks:
    """Crosses of different turn at one place."""
    return at_one_place({ink: Cross(size_mm, stroke_mm, turn) for ink, turn in turns.items()})


RINGS_AROUND = at_one_place(
    {
        "yellow": Disc(0.9),
        "magenta": Ring(1.5, 1.2),
        "cyan": Ring(2.1, 1.8),
        "black": Ring(2.7, 2.4),
    }
)
RINGS_OVER = at_one_place(
    {
        "yellow": Disc(1.8),
        "magenta": Ring(1.3, 0.8),
        "cyan": Ring(2.3, 1.5),
        "black": Disc(0.5),
    }
)
MIXED = at_one_place(
    {
        "yellow": Square(1.7),
        "magenta": Triangle(1.3),
        "cyan": Cross(2.0, 0.24, 30.0),
        "black": Ring(1.1, 0.85),
    }
)
MIXED_SPOTS = at_one_place(
    {
        "yellow": Disc(1.6),
        "magenta": Diamond(2.0, 0.9),
        "green": Ring(2.2, 1.85),
        "brown": Bar(2.4, 0.22, 40.0),
        "black": Cross(0.9, 0.16),
    }
)
BLOCK: Marks = (
    MarkDesign("white", Bar(4.2, 2.8), 0.0, 0.0),
    MarkDesign("yellow", Square(0.6), -0.6, -1.3),
    MarkDesign("magenta", Ring(0.65, 0.3), -0.6, 0.0),
    MarkDesign("cyan", Cross(0.7, 0.22), -0.6, 1.3),
    MarkDesign("black", Disc(0.6), 0.6, -0.65),
    MarkDesign("green", Diamond(0.7, 0.7), 0.6, 0.65),
)
