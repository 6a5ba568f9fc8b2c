"""Are the outside pages where they say they are? Plain centroids answer, no regscan code.

When a measurement fails on these pages, a pass here says that the measurement is wrong;
a failure here says that the page is.
"""

import math

import numpy as np
import pytest

from outside import ghostscript, poppler
from outside.needs import ghostscript_drawn, poppler_drawn
from outside.page import Lie, Page, Printed
from outside.plates import PX_MM, pixel_of
from regscan.job.layout import Bar, Cross, Diamond, Disc, Polygon, Ring, Square, Triangle

# Shape, its area in mm^2 by school geometry; straight edges a few degrees off the grid.
SHAPES = {
    "disc": (Disc(0.6), math.pi * 0.09),
    "ring": (Ring(0.8, 0.5), math.pi * (0.16 - 0.0625)),
    "cross": (Cross(0.9, 0.2, 4.0), 2 * 0.9 * 0.2 - 0.04),
    "square": (Square(0.6, 7.0), 0.36),
    "diamond": (Diamond(0.9, 0.6, 11.0), 0.27),
    "bar": (Bar(0.9, 0.3, 5.0), 0.27),
    "triangle": (Triangle(0.7, 9.0), 0.49 * math.sqrt(3) / 4),
    # Centroid of a right triangle: a third of its legs; points are about that place.
    "polygon": (Polygon(((-0.2, -0.2), (0.4, -0.2), (-0.2, 0.4)), 3.0), 0.18),
}
CELL_MM = 1.2


def sheet(shape, seed):
    """Six marks of one shape in a 2 x 3 grid, each a random part of a pixel off its cell."""
    rng = np.random.default_rng(seed)
    cells = [(r, c) for r in range(2) for c in range(3)]
    places = [(np.array(cell) + 0.5) * CELL_MM + rng.uniform(-0.02, 0.02, 2) for cell in cells]
    printed = tuple(Printed("black", shape, *map(float, place)) for place in places)
    return Page(2 * CELL_MM, 3 * CELL_MM, printed)


def errors_and_areas(render, shape, seed):
    """Centroid errors in px (6 x 2) and areas in mm^2 (6) of one sheet."""
    page = sheet(shape, seed)
    cover = render(page).cover("black")
    side = round(CELL_MM / PX_MM)
    errors, areas = [], []
    for mark, (row, col) in zip(
        page.printed, [(r, c) for r in range(2) for c in range(3)], strict=True
    ):
        cell = cover[row * side : (row + 1) * side, col * side : (col + 1) * side]
        rows, cols = np.mgrid[row * side : (row + 1) * side, col * side : (col + 1) * side]
        centroid = np.array([(cell * rows).sum(), (cell * cols).sum()]) / cell.sum()
        errors.append(centroid - pixel_of(mark.down_mm, mark.right_mm))
        areas.append(cell.sum() * PX_MM**2)
    return np.array(errors), np.array(areas)


@ghostscript_drawn
@pytest.mark.parametrize("name", SHAPES)
def test_ghostscript_puts_a_mark_where_the_page_says(name):
    shape, area = SHAPES[name]
    drawn = [errors_and_areas(ghostscript.draw, shape, seed) for seed in range(3)]
    errors = np.concatenate([d[0] for d in drawn])
    assert np.abs(errors).max() < 0.0025
    # The mean of 18 with a sd of 0.0005 or less is known to 0.00012; three of that.
    assert np.abs(errors.mean(axis=0)).max() < 0.0004
    assert np.concatenate([d[1] for d in drawn]) == pytest.approx(area, rel=1e-3)


@poppler_drawn
@pytest.mark.parametrize("name", SHAPES)
def test_poppler_puts_a_mark_where_the_page_says(name):
    """It paints every fine pixel that a shape touches: half a fine pixel (1/32 px) on
    sides along the grid, up to 1.41 times that on slanted ones. A shape whose sides are not
    matched by opposite ones moves by a part of the difference, 0.013 px."""
    shape, area = SHAPES[name]
    errors, areas = errors_and_areas(poppler.draw, shape, seed=1)
    symmetric = name not in ("triangle", "polygon")
    assert np.abs(errors).max() < (0.0025 if symmetric else 0.013)
    assert areas == pytest.approx(area, rel=0.015)


@ghostscript_drawn
@poppler_drawn
def test_the_two_renderers_agree():
    page = sheet(Ring(0.8, 0.5), seed=5)
    difference = ghostscript.draw(page).cover("black") - poppler.draw(page).cover("black")
    assert np.abs(difference).max() < 0.15  # two fine pixels of sixteen, along one edge
    assert np.abs(difference.mean()) < 0.002


@ghostscript_drawn
def test_overprint_keeps_both_plates():
    """A disc of yellow over one of cyan: three colours on paper, areas by geometry."""
    page = Page(
        1.0, 1.0, (Printed("cyan", Disc(0.6), 0.5, 0.5), Printed("yellow", Disc(0.3), 0.5, 0.5))
    )
    plates = ghostscript.draw(page)
    shares = {inks: share.sum() * PX_MM**2 for inks, share in plates.combinations().items()}
    both = math.pi * 0.15**2
    assert shares == {
        frozenset(): pytest.approx(1.0 - math.pi * 0.09, rel=1e-3),
        frozenset({"cyan"}): pytest.approx(math.pi * 0.09 - both, rel=1e-3),
        frozenset({"cyan", "yellow"}): pytest.approx(both, rel=1e-3),
    }


@pytest.mark.parametrize(
    ("lie", "late", "drive"),
    [
        (Lie("up", "right"), (1, 0), (0, 1)),
        (Lie("up", "left"), (1, 0), (0, -1)),
        (Lie("down", "right"), (-1, 0), (0, 1)),
        (Lie("left", "down"), (0, 1), (1, 0)),
        (Lie("right", "up"), (0, -1), (-1, 0)),
        # A quarter turn clockwise carries "up" to "right": late is then left.
        (Lie("up", "right", 90.0), (0, -1), (1, 0)),
    ],
)
def test_late_lies_against_the_travel(lie, late, drive):
    assert lie.on_page(1.0, 0.0) == pytest.approx(late)
    assert lie.on_page(0.0, 1.0) == pytest.approx(drive)
