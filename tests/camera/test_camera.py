"""Pixels to web and back: signs drawn by hand, doubt checked against matrix algebra."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from regscan.camera.camera import Camera

# Where the unwind and the drive side lie in the image, as (row, col) steps, for each legal
# pair: read off a drawing. A late mark lies toward the unwind, so opposite to the travel.
PAIRS = [
    # travel, drive side, one pixel toward the unwind, one pixel toward the drive side
    ("up", "right", (+1, 0), (0, +1)),
    ("up", "left", (+1, 0), (0, -1)),
    ("down", "right", (-1, 0), (0, +1)),
    ("down", "left", (-1, 0), (0, -1)),
    ("left", "up", (0, +1), (-1, 0)),
    ("left", "down", (0, +1), (+1, 0)),
    ("right", "up", (0, -1), (-1, 0)),
    ("right", "down", (0, -1), (+1, 0)),
]
PAIR_NAMES = [pair[:2] for pair in PAIRS]


def cameras():
    size = st.floats(0.002, 0.05)
    return st.builds(
        lambda pair, row, col, turn: Camera(row, col, pair[0], pair[1], turn),
        st.sampled_from(PAIR_NAMES), size, size, st.floats(-45, 45),
    )  # fmt: skip


@pytest.mark.parametrize(("travel", "side", "unwind_px", "drive_px"), PAIRS)
def test_late_is_toward_the_unwind_and_plus_is_the_drive_side(travel, side, unwind_px, drive_px):
    camera = Camera(0.010, 0.020, travel, side)
    size = {True: 0.010, False: 0.020}  # a step along rows has the row's size
    late = camera.to_web(*unwind_px)
    assert late == pytest.approx((size[unwind_px[0] != 0], 0.0), abs=1e-15)
    toward_drive = camera.to_web(*drive_px)
    assert toward_drive == pytest.approx((0.0, size[drive_px[0] != 0]), abs=1e-15)


def test_rotation_is_the_travel_turned_clockwise_in_the_image():
    # Travel up, turned clockwise by 10 degrees: it now points up and a little to the right.
    # A late mark lies opposite: down and a little to the left.
    camera = Camera(0.01, 0.01, "up", "right", 10.0)
    ten = math.radians(10.0)
    assert camera.to_web(100 * math.cos(ten), -100 * math.sin(ten)) == pytest.approx((1.0, 0.0))
    assert camera.to_web(100 * math.sin(ten), 100 * math.cos(ten)) == pytest.approx((0.0, 1.0))


@pytest.mark.parametrize(
    ("travel", "side", "turned_travel", "turned_side"),
    [
        ("up", "right", "right", "down"),
        ("up", "left", "right", "up"),
        ("right", "down", "down", "left"),
        ("left", "down", "up", "left"),
    ],
)
def test_a_quarter_turn_clockwise_is_another_pair(travel, side, turned_travel, turned_side):
    turned = Camera(0.01, 0.01, travel, side, 90.0)
    named = Camera(0.01, 0.01, turned_travel, turned_side)
    assert np.allclose(turned.matrix, named.matrix, atol=1e-15)


@given(cameras(), st.floats(-4000, 4000), st.floats(-4000, 4000))
def test_there_and_back(camera, row_px, col_px):
    back = camera.to_pixels(*camera.to_web(row_px, col_px))
    assert back == pytest.approx((row_px, col_px), abs=1e-8)


@given(cameras(), st.floats(-40, 40), st.floats(-40, 40))
def test_back_and_there(camera, circumferential_mm, lateral_mm):
    there = camera.to_web(*camera.to_pixels(circumferential_mm, lateral_mm))
    assert there == pytest.approx((circumferential_mm, lateral_mm), abs=1e-9)


@given(cameras(), st.floats(-500, 500), st.floats(-500, 500))
def test_lengths_on_the_web_are_those_of_the_pixels(camera, row_px, col_px):
    on_web = math.hypot(*camera.to_web(row_px, col_px))
    in_image = math.hypot(row_px * camera.row_mm_per_px, col_px * camera.col_mm_per_px)
    assert on_web == pytest.approx(in_image, abs=1e-12)


@given(cameras(), st.floats(1e-6, 1), st.floats(1e-6, 1), st.floats(-0.99, 0.99))
def test_covariance_is_carried_as_matrix_algebra_says(camera, row_sd, col_sd, correlation):
    covar = correlation * row_sd * col_sd
    matrix = np.array(camera.matrix)
    expected = matrix @ np.array([[row_sd**2, covar], [covar, col_sd**2]]) @ matrix.T
    circumferential, lateral, both = camera.covariance_to_web(row_sd**2, col_sd**2, covar)
    scale = float(np.trace(expected))
    got = np.array([[circumferential, both], [both, lateral]])
    assert np.allclose(got, expected, rtol=1e-9, atol=1e-12 * scale)


def test_covariance_is_the_spread_of_scattered_places():
    camera = Camera(0.011, 0.014, "left", "down", 12.0)
    pixels = [[0.04, 0.012], [0.012, 0.01]]
    scattered = np.random.default_rng(5).multivariate_normal([200.0, 300.0], pixels, 200_000)
    web = np.array(camera.to_web(scattered[:, 0], scattered[:, 1]))
    circumferential, lateral, both = camera.covariance_to_web(0.04, 0.01, 0.012)
    # 200,000 draws: variances are known to 0.3 %, one standard deviation.
    assert np.var(web[0]) == pytest.approx(circumferential, rel=0.015)
    assert np.var(web[1]) == pytest.approx(lateral, rel=0.015)
    assert np.cov(web)[0, 1] == pytest.approx(both, rel=0.03)


def test_size_of_a_pixel_that_is_not_square():
    assert Camera(0.01, 0.04).mm_per_px == pytest.approx(0.02)
