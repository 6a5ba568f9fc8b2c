"""From marks to offsets: signs, words, the reference, and the doubt it shares."""

import math

import numpy as np
import pytest

from regscan.camera.camera import Camera
from regscan.marks.finder import MarkFinder
from regscan.offsets.measure import measure_offsets
from regscan.offsets.offset import difference
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Look, Sensor, Shot
from tests.marks.conftest import LAB, six_colours

WAYS = [
    ("up", "left"),
    ("up", "right"),
    ("down", "left"),
    ("down", "right"),
    ("left", "up"),
    ("left", "down"),
    ("right", "up"),
    ("right", "down"),
]


@pytest.mark.parametrize(("travel", "drive"), WAYS)
def test_late_is_late_however_the_camera_is_mounted(travel, drive):
    job = six_colours()
    camera = Camera(0.012, 0.013, travel, drive, rotation_deg=2.0)
    true = {"cyan": (0.210, -0.130), "green": (-0.05, 0.08)}
    frame, _ = draw_frame(
        job, camera, true, Look(sensor=Sensor(noise_grey=1.0)), Shot(600, 640, seed=3)
    )
    offsets = {
        o.ink: o for o in measure_offsets(MarkFinder(job, camera).measure(frame), job, camera)
    }
    for ink in LAB:
        along, across = true.get(ink, (0.0, 0.0))
        assert offsets[ink].circumferential_mm == pytest.approx(along, abs=0.0005)
        assert offsets[ink].lateral_mm == pytest.approx(across, abs=0.0005)


def test_a_late_mark_lies_toward_the_unwind():
    """Web travels up, so the unwind is below: a late mark has the larger row."""
    job, camera = six_colours(), Camera(0.012, 0.012, "up", "right")
    _, on_time = draw_frame(job, camera, {}, Look(), Shot())
    _, late = draw_frame(job, camera, {"cyan": (0.12, 0.0)}, Look(), Shot())
    moved = late.mark("cyan").row_px - on_time.mark("cyan").row_px
    assert moved == pytest.approx(10.0)


def test_the_reference_has_zeros_and_a_missing_one_takes_all_with_it(without):
    job, camera = six_colours(), Camera(0.012, 0.012)
    frame, _ = draw_frame(without("black"), camera, {}, Look(), Shot(480, 640))
    offsets = measure_offsets(MarkFinder(job, camera).measure(frame), job, camera)
    assert {o.status for o in offsets} == {"missing"}
    assert any("black was not found" in o.note for o in offsets)
    assert all(math.isnan(o.circumferential_mm) for o in offsets)
    frame, _ = draw_frame(job, camera, {}, Look(), Shot(480, 640))
    black = next(
        o
        for o in measure_offsets(MarkFinder(job, camera).measure(frame), job, camera)
        if o.ink == "black"
    )
    assert (black.circumferential_mm, black.lateral_sd_mm, black.status) == (0.0, 0.0, "ok")


def test_two_colours_are_better_known_against_each_other_than_against_a_poor_reference():
    """The reference's error is in both, so it drops out (JCGM 100:2008, 5.2)."""
    job, camera = six_colours(), Camera(0.012, 0.012)
    finder = MarkFinder(job, camera)
    look = Look(sensor=Sensor(noise_grey=8.0))
    errors, claims = [], []
    for seed in range(60):
        frame, _ = draw_frame(job, camera, {}, look, Shot(480, 640, seed=seed))
        by_ink = {o.ink: o for o in measure_offsets(finder.measure(frame), job, camera)}
        value, sd = difference(by_ink["magenta"], by_ink["brown"], "circumferential")
        errors.append(value / sd)
        claims.append(sd)
        naive = math.hypot(
            by_ink["magenta"].circumferential_sd_mm, by_ink["brown"].circumferential_sd_mm
        )
        assert sd < naive
    # 60 draws: the spread of a true pull is 1 +- 0.09 (one sigma).
    assert 0.75 < np.std(errors) < 1.25


@pytest.fixture
def without():
    from dataclasses import replace

    def strip(*inks):
        job = six_colours()
        return replace(job, marks=tuple(m for m in job.marks if m.ink not in inks))

    return strip
