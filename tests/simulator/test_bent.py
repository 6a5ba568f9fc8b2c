"""Drawing through a lens: places against closed forms and against the camera room's own."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from regscan.camera.camera import Camera
from regscan.camera.lens import LateralColour, Lens
from regscan.job.layout import Disc, Square
from regscan.simulator.bent import looked_up, seen_at, straighten
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Look, Sensor, Shot
from tests.simulator.drawn_job import job_of

SIZE = (120, 160)
CORNER = math.hypot(*SIZE) / 2.0
MIDDLE = (59.5, 79.5)
FINE_COUNTS = Look(sensor=Sensor(bits=16))


def linear(lens, **more):
    return Camera(0.012, 0.012, tone="linear", lens=lens, **more)


def drawn(camera, origin, shape=None):
    job = job_of({"black": shape or Disc(0.24)})
    shot = Shot(*SIZE, origin_px=origin)
    frame, truth = draw_frame(job, camera, None, FINE_COUNTS, shot)
    return frame.pixels.astype(float), truth.marks[0]


def middles(pixels):
    """(row, col) of the darkness in each channel, 3 x 2."""
    dark = pixels[0, 0] - pixels
    rows, cols = np.indices(dark.shape[:2])
    whole = dark.sum(axis=(0, 1))
    down = (dark * rows[..., None]).sum(axis=(0, 1)) / whole
    right = (dark * cols[..., None]).sum(axis=(0, 1)) / whole
    return np.stack([down, right], axis=1)


def test_red_and_blue_lie_where_the_lens_says():
    red = LateralColour(row_px=0.31, col_px=-0.12, scale_px=1.4)
    blue = LateralColour(row_px=-0.2, col_px=0.05, scale_px=-0.9)
    lens = Lens(*SIZE, MIDDLE, red=red, blue=blue)
    pixels, mark = drawn(linear(lens), (30.2, 120.7))
    assert (mark.row_px, mark.col_px) == pytest.approx((30.2, 120.7))
    off = np.array([30.2, 120.7]) - MIDDLE
    expected = [
        np.array([30.2, 120.7]) + (colour.row_px, colour.col_px) + colour.scale_px * off / CORNER
        for colour in (red, LateralColour(), blue)
    ]
    np.testing.assert_allclose(middles(pixels), expected, atol=0.002)


def test_a_channel_without_a_shift_is_drawn_as_ever():
    still = Camera(0.012, 0.012, tone="linear")
    lens = Lens(*SIZE, MIDDLE, red=LateralColour(0.4, 0.2))
    plain, _ = drawn(still, (50.0, 80.0))
    parted, _ = drawn(linear(lens), (50.0, 80.0))
    np.testing.assert_array_equal(parted[..., 1:], plain[..., 1:])


def test_keystone_is_the_picture_of_a_tilted_plane():
    """Equal steps on the web grow toward one side: cross-ratios of four places stay."""
    camera = linear(Lens(*SIZE, MIDDLE, keystone_px=(0.0, 6.0)))
    cols = [seen_at(camera, MIDDLE, 0.0, mm)[1] for mm in (-0.6, -0.2, 0.2, 0.6)]
    a, b, c, d = cols
    assert (c - a) * (d - b) / ((c - b) * (d - a)) == pytest.approx(4.0 / 3.0)
    assert d - c != pytest.approx(b - a, abs=0.1)


def test_radial_bending_is_its_closed_form():
    """A place at half the corner's distance, bent by a cubic term of 4 px: 0.5 px outward."""
    lens = Lens(*SIZE, MIDDLE, radial_px=(4.0,))
    half = np.array(complex(MIDDLE[0], MIDDLE[1] + CORNER / 2.0))
    assert straighten(lens, half) - half == pytest.approx(0.5j)


def test_a_bent_mark_lies_where_the_truth_says():
    lens = Lens(*SIZE, MIDDLE, radial_px=(3.0,), tangential_px=(0.4, -0.3), shear_px=1.0)
    pixels, mark = drawn(linear(lens), (70.0, 100.0), Square(0.06))
    # Small, since curvature moves the centroid of a large square by (side^2 / 12) x 6e-4 / px.
    assert middles(pixels)[1] == pytest.approx((mark.row_px, mark.col_px), abs=0.003)


lenses = st.builds(
    Lens,
    st.just(480),
    st.just(640),
    st.tuples(st.floats(200, 280), st.floats(280, 360)),
    st.lists(st.floats(-8, 8), max_size=3).map(tuple),
    st.tuples(st.floats(-3, 3), st.floats(-3, 3)),
    st.tuples(st.floats(-6, 6), st.floats(-6, 6)),
    st.floats(-3, 3),
    st.builds(LateralColour, *[st.floats(-2, 2)] * 4),
)


@settings(deadline=None)
@given(lenses, st.floats(0, 480), st.floats(0, 640))
def test_two_rooms_agree_on_every_place(lens, row, col):
    place = np.array(complex(row, col))
    straight = lens.straight(row, col)
    assert straighten(lens, place) == pytest.approx(complex(*straight), abs=1e-9)
    shift = lens.colour_shift(lens.red, row, col)
    back = looked_up(lens, lens.red, place + complex(*shift))
    assert back == pytest.approx(complex(row, col), abs=1e-6)
    camera = Camera(0.01, 0.012, "left", "up", 3.0, lens=lens)
    along, across = camera.web_between((row, col), (100.0, 120.0))
    assert seen_at(camera, (100.0, 120.0), along, across) == pytest.approx((row, col), abs=1e-6)
