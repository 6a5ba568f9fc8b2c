"""Marks seen through a lens, drawn by the simulator's own mathematics, at their true places."""

from dataclasses import replace

import numpy as np
import pytest

from regscan.camera.camera import Camera
from regscan.camera.lens import LateralColour, Lens
from regscan.job.job import Colour
from regscan.marks.finder import MarkFinder
from regscan.marks.seeing.lateral import colours_met
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Look, Overprint, Sensor, Shot
from tests.marks.conftest import LAB, errors_px

SIZE = (480, 640)
# 1 px at the corner, red outward and blue inward, as an achromat at the edge of its field.
PARTED = Lens(
    *SIZE,
    (239.5, 319.5),
    red=LateralColour(0.1, -0.1, 1.0),
    blue=LateralColour(0.0, 0.1, -1.0),
)
BENT = replace(
    PARTED, radial_px=(4.0,), tangential_px=(0.3, 0.0), keystone_px=(1.5, -1.0), shear_px=0.5
)
QUIET = Look(sensor=Sensor(noise_grey=0.3, bits=16))


def corners(job, camera, look=QUIET, offsets=None):
    """Frames with the mark set in each corner, and their truth."""
    for number, origin in enumerate([(45, 45), (45, 270), (260, 45), (260, 270)]):
        place = origin[0] + 0.3 * number, origin[1] + 0.7 * number
        yield draw_frame(job, camera, offsets or {}, look, Shot(*SIZE, number, place))


def worst_px(job, drawn_with, measured_with, **how):
    """The largest error of any ink's mark on either axis, by ink."""
    finder = MarkFinder(job, measured_with)
    worst = dict.fromkeys(LAB, 0.0)
    for frame, truth in corners(job, drawn_with, **how):
        marks = finder.measure(frame)
        assert [m.ink for m in marks if m.status == "missing"] == []
        for ink, error in zip(LAB, np.abs(errors_px(marks, truth)).max(axis=1), strict=True):
            worst[ink] = max(worst[ink], float(error))
    return worst


def test_a_pixel_of_lateral_colour_comes_down_to_less_than_a_hundredth(job, camera):
    parted = replace(camera, lens=PARTED)
    before = worst_px(job, parted, camera)
    after = worst_px(job, parted, parted)
    assert max(before.values()) > 0.4
    assert max(after.values()) < 0.01


@pytest.mark.parametrize("mosaic", ["", "rggb"])
def test_bent_marks_are_placed_by_their_shape_as_seen(mosaic, job, camera):
    """A triangle at the corner of a bending lens leans; drawn straight it would be 0.07 px off."""
    bent = replace(camera, lens=BENT, mosaic=mosaic)
    assert max(worst_px(job, bent, bent).values()) < (0.03 if mosaic else 0.012)


def test_marks_on_each_other_are_free_of_lateral_colour_too(job, camera):
    """Cyan half over magenta: both colours fitted together."""
    parted = replace(camera, lens=PARTED)
    over = Overprint(frozenset({"cyan", "magenta"}), Colour("lab", (24.0, 17.0, -46.0)))
    look = replace(QUIET, overprints=(over,))
    offsets = {"cyan": (0.0, 1.5)}
    before = worst_px(job, parted, camera, look=look, offsets=offsets)
    after = worst_px(job, parted, parted, look=look, offsets=offsets)
    assert before["cyan"] > 0.1
    assert max(after["cyan"], after["magenta"]) < 0.03


def test_a_lens_without_lateral_colour_leaves_pixels_alone():
    rng = np.random.default_rng(1)
    planes = rng.integers(0, 256, (40, 50, 3)).astype(np.uint8)
    window = slice(3, 30), slice(5, 45)
    same = colours_met(planes, Lens(40, 50, (20.0, 25.0)), *window)
    np.testing.assert_array_equal(same, planes[window] * np.uint16(257))


def test_whole_pixels_are_moved_exactly_even_over_the_border():
    planes = np.random.default_rng(2).integers(0, 65536, (40, 50, 3)).astype(np.uint16)
    lens = Lens(40, 50, (20.0, 25.0), red=LateralColour(2.0, -3.0))
    moved = colours_met(planes, lens, slice(0, 40), slice(0, 50))
    rows, cols = np.clip(np.arange(40) + 2, 0, 39), np.clip(np.arange(50) - 3, 0, 49)
    np.testing.assert_array_equal(moved[..., 0], planes[np.ix_(rows, cols)][..., 0])
    np.testing.assert_array_equal(moved[..., 1:], planes[..., 1:])


def test_a_straight_lens_measures_as_no_lens(job, camera):
    frame, _ = draw_frame(job, camera, {}, QUIET, Shot(*SIZE))
    plain = MarkFinder(job, camera).measure(frame)
    straight = MarkFinder(job, replace(camera, lens=Lens(*SIZE, (0.0, 0.0)))).measure(frame)
    for one, other in zip(plain, straight, strict=True):
        assert (other.row_px, other.col_px) == pytest.approx((one.row_px, one.col_px), abs=1e-6)


def test_a_camera_near_a_place_comes_back_for_places_nearby():
    bent = Camera(0.012, 0.012, lens=BENT)
    assert bent.near(100.0, 210.0) == bent.near(98.0, 205.0)
    assert bent.near(float("nan"), 1.0) is bent
