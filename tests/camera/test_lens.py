"""A camera with a lens: there and back, what each number does, and no change without one."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from regscan.camera.camera import Camera
from regscan.camera.lens import LateralColour, Lens
from tests.camera.test_camera import PAIR_NAMES

SIZE = (1024, 1280)
MIDDLE = (511.5, 639.5)
CORNER = math.hypot(*SIZE) / 2.0

bends = st.floats(-12, 12)
lenses = st.builds(
    Lens,
    st.just(SIZE[0]),
    st.just(SIZE[1]),
    st.tuples(st.floats(400, 620), st.floats(540, 740)),
    st.lists(bends, max_size=3).map(tuple),
    st.tuples(st.floats(-4, 4), st.floats(-4, 4)),
    st.tuples(bends, bends),
    st.floats(-5, 5),
)
cameras = st.builds(
    lambda pair, row, col, turn, lens: Camera(row, col, pair[0], pair[1], turn, lens=lens),
    st.sampled_from(PAIR_NAMES),
    st.floats(0.005, 0.03),
    st.floats(0.005, 0.03),
    st.floats(-5, 5),
    lenses,
)


@given(cameras, st.floats(0, SIZE[0]), st.floats(0, SIZE[1]))
def test_there_and_back_through_a_lens(camera, row_px, col_px):
    back = camera.to_pixels(*camera.to_web(row_px, col_px))
    assert back == pytest.approx((row_px, col_px), abs=1e-7)


@given(cameras, st.floats(0, SIZE[0]), st.floats(0, SIZE[1]))
def test_between_is_the_difference_of_two_places(camera, row_px, col_px):
    here, there = camera.to_web(row_px, col_px), camera.to_web(300.0, 400.0)
    between = camera.web_between((row_px, col_px), (300.0, 400.0))
    assert between == pytest.approx((here[0] - there[0], here[1] - there[1]), abs=1e-12)


@given(st.floats(0, SIZE[0]), st.floats(0, SIZE[1]))
def test_without_a_lens_all_is_bit_for_bit_the_matrix(row_px, col_px):
    camera = Camera(0.0123, 0.0117, "left", "up", 1.7)
    (a, b), (c, d) = camera.matrix
    assert camera.to_web(row_px, col_px) == (a * row_px + b * col_px, c * row_px + d * col_px)
    rows, cols = row_px - 31.7, col_px - 12.9
    between = camera.web_between((row_px, col_px), (31.7, 12.9))
    assert between == (a * rows + b * cols, c * rows + d * cols)
    assert camera.near(row_px, col_px) is camera


def test_arrays_do_as_numbers_do():
    lens = Lens(*SIZE, MIDDLE, (4.0, -1.0), (0.5, 0.2), (2.0, 1.0), 0.7)
    rows, cols = np.array([0.0, 300.0, 1000.0]), np.array([10.0, 640.0, 1200.0])
    together = np.array(lens.straight(rows, cols)).T
    alone = [lens.straight(float(r), float(c)) for r, c in zip(rows, cols, strict=True)]
    np.testing.assert_allclose(together, alone)


def at(angle, share=1.0):
    """A place at a share of the way to the corner's distance, clockwise from downward."""
    return (
        MIDDLE[0] + share * CORNER * math.cos(angle),
        MIDDLE[1] + share * CORNER * math.sin(angle),
    )


@pytest.mark.parametrize("angle", [0.0, 0.7, 2.9])
@pytest.mark.parametrize(("term", "power"), [(0, 3), (1, 5), (2, 7)])
def test_radial_numbers_are_pixels_outward_at_the_corner(term, power, angle):
    radial = tuple(3.0 * (k == term) for k in range(3))
    lens = Lens(*SIZE, MIDDLE, radial)
    for share in (0.5, 1.0):
        place = at(angle, share)
        off = np.array(lens.straight(*place)) - place
        outward = np.array([math.cos(angle), math.sin(angle)])
        np.testing.assert_allclose(off, 3.0 * share**power * outward, atol=1e-9)


def test_keystone_moves_its_own_corner_outward_and_the_opposite_one_inward():
    lens = Lens(*SIZE, MIDDLE, keystone_px=(0.0, 2.0))
    right, left = (lens.straight(*at(angle))[1] for angle in (math.pi / 2, -math.pi / 2))
    assert right - at(math.pi / 2)[1] == pytest.approx(2.0, rel=0.01)
    assert left - at(-math.pi / 2)[1] == pytest.approx(2.0, rel=0.01)


def test_shear_leans_the_columns():
    lens = Lens(*SIZE, MIDDLE, shear_px=1.5)
    place = MIDDLE[0] + 40.0, MIDDLE[1] + CORNER
    assert lens.straight(*place) == pytest.approx((place[0] + 1.5, place[1]))


@pytest.mark.parametrize("angle", [0.3, 2.0])
def test_lateral_colour_grows_outward(angle):
    colour = LateralColour(0.1, -0.2, 0.8, 0.3)
    lens = Lens(*SIZE, MIDDLE, red=colour)
    for share in (0.0, 0.5, 1.0):
        outward = 0.8 * share + 0.3 * share**3
        expected = 0.1 + outward * math.cos(angle), -0.2 + outward * math.sin(angle)
        assert lens.colour_shift(colour, *at(angle, share)) == pytest.approx(expected)


def test_only_a_shift_parts_colours():
    lens = Lens(*SIZE, MIDDLE)
    assert not lens.parts_colours
    assert replace(lens, blue=LateralColour(col_px=0.1)).parts_colours


def test_near_draws_a_shape_as_it_is_seen_there():
    """A length of 0.4 mm along the web at a corner, by the whole camera and by the near one."""
    camera = Camera(0.012, 0.012, lens=Lens(*SIZE, MIDDLE, (9.0,), keystone_px=(2.0, -3.0)))
    place = 96.0, 1200.0  # whole steps, so that the near one is drawn exactly here
    along, across = camera.to_web(*place)
    whole = np.array(camera.to_pixels(along + 0.4, across)) - place
    near = camera.near(*place)
    home = near.to_web(0.0, 0.0)
    np.testing.assert_allclose(near.to_pixels(home[0] + 0.4, home[1]), whole, atol=1e-7)
    assert np.abs(whole - camera.step_to_pixels(0.4, 0.0)).max() > 0.1
