"""Outlines against the textbook areas and centres of the shapes."""

import math

import numpy as np
import pytest

from regscan.camera.camera import Camera
from regscan.job.layout import Bar, Cross, Diamond, Disc, Polygon, Ring, Square, Triangle
from regscan.marks.shape.outline import (
    area_mm2,
    outline_area,
    outline_length_px,
    outline_mm,
    outline_px,
)


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


@pytest.mark.parametrize("sizes", [(0.012, 0.012), (0.010, 0.0125), (0.02, 0.008)])
@pytest.mark.parametrize("turn_deg", [0.0, 30.0])
def test_ink_spread_is_a_length_on_the_web(sizes, turn_deg):
    """A square of side a that spreads by d: (a + 2 d)^2 of web, along both axes alike."""
    camera, side_mm, spread_mm = Camera(*sizes), 0.5, 0.02
    grown = outline_px(Square(side_mm, turn_deg), camera, spread_mm / camera.mm_per_px)
    on_web = grown[0] @ np.array(camera.matrix).T
    wanted = outline_mm(Square(side_mm + 2.0 * spread_mm, turn_deg))[0]
    assert on_web == pytest.approx(wanted, abs=1e-9)
    pixel_mm2 = camera.mm_per_px**2
    assert outline_area(grown) * pixel_mm2 == pytest.approx((side_mm + 2.0 * spread_mm) ** 2)
    assert outline_length_px(grown, camera) * camera.mm_per_px == pytest.approx(
        4.0 * (side_mm + 2.0 * spread_mm)
    )
