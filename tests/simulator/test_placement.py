"""Drawn marks lie where the truth says, at every sub-pixel phase, and are as large as designed."""

import math

import numpy as np
import pytest

from regscan.camera.camera import Camera
from regscan.job.layout import (
    Bar,
    Cross,
    Diamond,
    Disc,
    Polygon,
    Ring,
    Square,
    Triangle,
)
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Lens, Look, Print, Sensor, Shot
from tests.simulator.drawn_job import CAMERA, centroid, darkness, job_of

# Area, centroid and name of each shape by school geometry, mm.
HOUSE = ((-0.3, -0.25), (0.1, -0.25), (0.1, 0.25), (-0.3, 0.25))  # 0.4 x 0.5 about (-0.1, 0)
CASES = [
    (Disc(0.6), math.pi * 0.3**2, (0.0, 0.0)),
    (Ring(0.6, 0.28), math.pi * (0.3**2 - 0.14**2), (0.0, 0.0)),
    (Cross(0.6, 0.2), 2 * 0.6 * 0.2 - 0.2**2, (0.0, 0.0)),
    (Cross(0.6, 0.2, 31.0), 2 * 0.6 * 0.2 - 0.2**2, (0.0, 0.0)),
    (Square(0.5), 0.25, (0.0, 0.0)),
    (Square(0.5, 12.0), 0.25, (0.0, 0.0)),
    (Diamond(0.7, 0.5), 0.7 * 0.5 / 2, (0.0, 0.0)),
    (Bar(0.8, 0.2, 33.0), 0.16, (0.0, 0.0)),
    (Triangle(0.6), math.sqrt(3) / 4 * 0.36, (0.0, 0.0)),
    (Triangle(0.6, 50.0), math.sqrt(3) / 4 * 0.36, (0.0, 0.0)),
    (Polygon(HOUSE), 0.2, (-0.1, 0.0)),
    (Polygon(HOUSE, 90.0), 0.2, (0.0, -0.1)),
]
SLANTED = Camera(0.012, 0.0125, rotation_deg=1.5, tone="linear")
SHARP_COUNTS = Sensor(bits=16)


def drawn(shape, origin, *, gain_um=0.0, blur_px=1.2):
    look = Look(Print(gain_um=gain_um), Lens(blur_px), SHARP_COUNTS)
    frame, truth = draw_frame(
        job_of({"black": shape}), SLANTED, None, look, Shot(112, 128, origin_px=origin)
    )
    return frame.pixels, truth.marks[0]


@pytest.mark.parametrize(("shape", "area_mm2", "middle_mm"), CASES)
def test_centre_is_right_to_a_thousandth_of_a_pixel(shape, area_mm2, middle_mm):
    rng = np.random.default_rng(5)
    shift = np.array(SLANTED.to_pixels(*middle_mm))
    errors = []
    for _ in range(12):
        pixels, mark = drawn(shape, (56 + rng.uniform(), 64 + rng.uniform()))
        errors.append(np.array(centroid(pixels)) - (mark.row_px, mark.col_px) - shift)
    assert np.abs(errors).max() < 0.0002


@pytest.mark.parametrize(("shape", "area_mm2", "middle_mm"), CASES)
def test_area_is_the_design_s(shape, area_mm2, middle_mm):
    pixels, _ = drawn(shape, (56.3, 63.8))
    inked = darkness(pixels)
    # The same ink in a field of its own tells what full cover takes away.
    full = darkness(drawn(Square(1.0), (56.0, 64.0))[0]).max()
    area_px = area_mm2 / (SLANTED.row_mm_per_px * SLANTED.col_mm_per_px)
    assert inked.sum() / full == pytest.approx(area_px, rel=5e-4)


def test_dot_gain_moves_every_edge_outward():
    plain, grown = (darkness(drawn(Disc(0.6), (56, 64), gain_um=g)[0]).sum() for g in (0, 15))
    assert grown / plain == pytest.approx((0.315 / 0.3) ** 2, rel=1e-3)


def test_every_mark_of_a_full_frame_is_in_its_place():
    frame, truth = draw_frame(job_of(), CAMERA, {"cyan": (0.21, -0.13)})
    assert frame.pixels.shape == (480, 640, 3)  # never square: a swapped axis must show
    assert frame.pixels.dtype == np.uint8
    assert {mark.ink for mark in truth.marks} == set(frame_inks())
    for mark in truth.marks:
        row, col = round(mark.row_px), round(mark.col_px)
        near = frame.pixels[row - 45 : row + 46, col - 45 : col + 46]
        place = np.add(centroid(near), (row - 45, col - 45))
        # Eight bits and the sRGB curve leave a centroid some thousandths of a pixel.
        assert place == pytest.approx((mark.row_px, mark.col_px), abs=0.02)


def frame_inks():
    return [mark.ink for mark in job_of().marks]


def test_the_origin_may_be_given_and_is_mid_frame_otherwise():
    job = job_of({"black": Disc(0.6)})
    _, given = draw_frame(job, CAMERA, None, shot=Shot(100, 120, origin_px=(40.25, 60.5)))
    _, free = draw_frame(job, CAMERA, None, shot=Shot(100, 120))
    assert (given.marks[0].row_px, given.marks[0].col_px) == (40.25, 60.5)
    assert (free.marks[0].row_px, free.marks[0].col_px) == (49.5, 59.5)


def test_a_mark_cut_by_the_border_is_drawn_in_part():
    job = job_of({"black": Disc(0.6)})
    whole, _ = draw_frame(job, CAMERA, None, shot=Shot(100, 120, origin_px=(50, 60)))
    cut, _ = draw_frame(job, CAMERA, None, shot=Shot(100, 120, origin_px=(0, 60)))
    np.testing.assert_array_equal(cut.pixels[:50], whole.pixels[50:])


def test_marks_outside_the_frame_leave_it_bare():
    job = job_of({"black": Disc(0.6)})
    bare, truth = draw_frame(job, CAMERA, None, shot=Shot(100, 120, origin_px=(-300, 60)))
    assert len(np.unique(bare.pixels.reshape(-1, 3), axis=0)) == 1
    assert truth.marks[0].row_px == -300
