"""Outlines against the textbook areas and centres of the shapes."""

import math

import numpy as np
import pytest

from regscan.job.layout import Bar, Cross, Diamond, Disc, Polygon, Ring, Square, Triangle
from regscan.marks.shape.outline import area_mm2, outline_mm


@pytest.mark.parametrize(
    ("shape", "area"),
    [
        (Disc(0.5), math.pi * 0.25**2),
        (Ring(0.6, 0.4), math.pi * (0.3**2 - 0.2**2)),
        (Cross(0.6, 0.1), 2 * 0.6 * 0.1 - 0.1**2),
        (Square(0.4, 20.0), 0.16),
        (Diamond(0.7, 0.5), 0.7 * 0.5 / 2),
        (Bar(1.0, 0.2, 30.0), 0.2),
        (Triangle(0.6), math.sqrt(3) / 4 * 0.36),
        (Polygon(((0, 0), (0.3, 0), (0, 0.4))), 0.06),
    ],
)
def test_area_is_the_formulas(shape, area):
    assert area_mm2(shape) == pytest.approx(area, rel=1e-9)


def test_a_bar_lies_across_the_web_before_turning():
    (points,) = outline_mm(Bar(1.0, 0.2))
    assert np.ptp(points[:, 0]) == pytest.approx(0.2)
    assert np.ptp(points[:, 1]) == pytest.approx(1.0)


def test_turn_goes_from_circumferential_toward_lateral():
    (points,) = outline_mm(Triangle(0.6, turn_deg=90.0))
    corner = points[0]  # pointed toward + circumferential before turning
    assert corner == pytest.approx([0.0, 0.6 / math.sqrt(3)], abs=1e-12)


def test_a_triangle_is_placed_by_its_centre_of_area():
    (points,) = outline_mm(Triangle(0.6, turn_deg=17.0))
    assert points.mean(axis=0) == pytest.approx([0.0, 0.0], abs=1e-12)
