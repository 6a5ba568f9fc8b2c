"""Coverage of polygons against exact areas, centres and a brute-force count."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from skimage.draw import polygon2mask

from regscan.marks.shape.raster import coverage

place = st.tuples(st.floats(0.5, 19.5), st.floats(0.5, 29.5))


def area_and_centre(corners):
    after = np.roll(corners, -1, axis=0)
    cross = corners[:, 0] * after[:, 1] - after[:, 0] * corners[:, 1]
    return cross.sum() / 2, ((corners + after) * cross[:, None]).sum(axis=0) / (3 * cross.sum())


@settings(deadline=None)
@given(st.tuples(place, place, place))
def test_a_triangles_area_and_centre_are_kept_exactly(corners):
    corners = np.array(corners)
    side, other = corners[1] - corners[0], corners[2] - corners[0]
    assume(abs(side[0] * other[1] - side[1] * other[0]) > 1.0)
    area, centre = area_and_centre(corners)
    ink = coverage((corners,), 20, 30).astype(float)
    assert ink.sum() == pytest.approx(abs(area), abs=1e-4)
    # Within a cell the ink's own centre is not the cell's: no more than half a cell off.
    rows, cols = np.arange(20) + 0.5, np.arange(30) + 0.5
    assert ink.sum(axis=1) @ rows / ink.sum() == pytest.approx(centre[0], abs=0.5)
    assert ink.sum(axis=0) @ cols / ink.sum() == pytest.approx(centre[1], abs=0.5)


def test_every_cell_agrees_with_counting_points():
    corners = np.array([(2.3, 3.1), (9.7, 4.2), (15.5, 17.9), (5.2, 24.4)])
    fine = 40
    counted = polygon2mask((20 * fine, 30 * fine), corners * fine - 0.5)
    counted = counted.reshape(20, fine, 30, fine).mean(axis=(1, 3))
    assert np.abs(coverage((corners,), 20, 30) - counted).max() < 0.03


def test_a_hole_is_taken_away_whichever_way_it_turns():
    outer = np.array([(2.0, 2.0), (2.0, 12.0), (12.0, 12.0), (12.0, 2.0)])
    inner = np.array([(5.0, 5.0), (5.0, 8.0), (8.0, 8.0), (8.0, 5.0)])
    for hole in (inner, inner[::-1]):
        ink = coverage((outer, hole), 15, 15)
        assert ink.sum() == pytest.approx(100 - 9)
        assert ink[6, 6] == 0.0
