"""Simple or not: the answers of a geometry library (shapely) are the truth."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from regscan.job.polygon import area_mm2, polygon_faults

geometry = pytest.importorskip("shapely.geometry")

# Whole and half millimetres, so that corners on sides and sides on sides do occur.
corner = st.tuples(st.integers(-3, 3), st.integers(-3, 3)).map(lambda p: (p[0] / 2, p[1] / 2))


@settings(max_examples=400, deadline=None)
@given(st.lists(corner, min_size=3, max_size=7))
def test_agrees_with_shapely(points):
    assert (list(polygon_faults(points)) == []) == simple_by_shapely(points)


def simple_by_shapely(points):
    ring = geometry.LinearRing(points)
    return len(set(points)) == len(points) and ring.is_simple and geometry.Polygon(ring).area > 0


@settings(max_examples=100, deadline=None)
@given(st.integers(3, 30), st.floats(0.1, 5), st.floats(0, 7))
def test_regular_polygons_are_simple_and_have_their_area(count, radius_mm, turn):
    angles = [turn + 2 * math.pi * k / count for k in range(count)]
    points = [(radius_mm * math.cos(a), radius_mm * math.sin(a)) for a in angles]
    assert list(polygon_faults(points)) == []
    # Area of a regular polygon from its circumradius (textbook).
    expected = 0.5 * count * radius_mm**2 * math.sin(2 * math.pi / count)
    assert math.isclose(area_mm2(points), expected, rel_tol=1e-9)


def test_an_overturned_corner_is_named_by_its_sides():
    ((what, cure),) = polygon_faults([(0, 0), (1, 1), (1, 0), (0, 1)])
    assert what == "its sides 1 and 3 cross or touch"
    assert "order" in cure
