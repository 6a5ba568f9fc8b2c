"""Late is toward the unwind and + lateral toward the drive side, however the camera hangs."""

import numpy as np
import pytest

from regscan.camera.camera import Camera
from regscan.job.layout import Bar, Disc, Triangle
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Shot
from tests.simulator.drawn_job import LINEAR, centroid, job_of

STEP = {"up": (-1, 0), "down": (1, 0), "left": (0, -1), "right": (0, 1)}
HUNG = [
    (travel, drive)
    for travel in STEP
    for drive in STEP
    if (travel in ("up", "down")) != (drive in ("up", "down"))
]
SHOT = Shot(160, 200)


def place(camera, offset, shape=None):
    job = job_of({"black": shape or Disc(0.6)})
    frame, _ = draw_frame(job, camera, {"black": offset}, shot=SHOT)
    return np.array(centroid(frame.pixels))


@pytest.mark.parametrize(("travel", "drive"), HUNG)
def test_late_lies_toward_the_unwind(travel, drive):
    camera = Camera(0.012, 0.012, travel, drive)
    moved = place(camera, (0.24, 0.0)) - place(camera, (0.0, 0.0))
    # What prints late comes after the web in front of it: against the web's travel.
    assert moved == pytest.approx(-20.0 * np.array(STEP[travel]), abs=0.02)


@pytest.mark.parametrize(("travel", "drive"), HUNG)
def test_plus_lateral_lies_toward_the_drive_side(travel, drive):
    camera = Camera(0.012, 0.012, travel, drive)
    moved = place(camera, (0.0, 0.24)) - place(camera, (0.0, 0.0))
    assert moved == pytest.approx(20.0 * np.array(STEP[drive]), abs=0.02)


@pytest.mark.parametrize(("travel", "drive"), HUNG)
def test_an_unturned_triangle_points_toward_the_unwind(travel, drive):
    camera = Camera(0.012, 0.012, travel, drive)
    job = job_of({"black": Triangle(0.9)})
    frame, truth = draw_frame(job, camera, None, shot=SHOT)
    dark = np.argwhere(frame.pixels[..., 1] < 100)
    ahead = (dark - (truth.marks[0].row_px, truth.marks[0].col_px)) @ -np.array(STEP[travel])
    # Centroid to corner is twice centroid to side.
    assert ahead.max() == pytest.approx(2 * -ahead.min(), rel=0.1)


@pytest.mark.parametrize(("travel", "drive"), HUNG)
def test_a_turn_goes_from_circumferential_toward_lateral(travel, drive):
    camera = Camera(0.012, 0.012, travel, drive)
    job = job_of({"black": Triangle(0.9, turn_deg=90.0)})
    frame, truth = draw_frame(job, camera, None, shot=SHOT)
    dark = np.argwhere(frame.pixels[..., 1] < 100)
    ahead = (dark - (truth.marks[0].row_px, truth.marks[0].col_px)) @ np.array(STEP[drive])
    assert ahead.max() == pytest.approx(2 * -ahead.min(), rel=0.1)


def test_a_bar_is_long_across_the_web():
    frame, _ = draw_frame(job_of({"black": Bar(1.2, 0.3)}), LINEAR, None, shot=SHOT)
    green = frame.pixels[..., 1].astype(float)
    rows, cols = np.nonzero(green < (green.min() + green.max()) / 2)
    assert np.ptp(cols) + 1 == pytest.approx(100, abs=1)
    assert np.ptp(rows) + 1 == pytest.approx(25, abs=1)


def test_the_pixel_pitch_of_each_direction_counts():
    camera = Camera(0.010, 0.015)
    moved = place(camera, (0.3, 0.3)) - place(camera, (0.0, 0.0))
    assert moved == pytest.approx([30.0, 20.0], abs=0.02)
