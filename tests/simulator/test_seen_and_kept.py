"""A window of a frame, a streak of light, JPEG, and one plate's ink laid once."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from regscan.job.layout import Disc
from regscan.simulator.draw import draw_frame, true_places
from regscan.simulator.layers import all_layers
from regscan.simulator.look import Jpeg, Lens, Look, Patch, Print, Sensor, Shot, Streak
from regscan.simulator.printed import Scene, Window, printed_light
from tests.simulator.drawn_job import LINEAR, darkness, job_of

DEEP = Look(sensor=Sensor(bits=16))


def test_a_window_is_the_same_part_of_the_frame():
    job, shot = job_of(), Shot(300, 420, seed=3)
    patch = Patch("green", 0.6, 0.5, 0.8, 3.0)
    look = replace(DEEP, patches=(patch,), lens=Lens(1.3), print=Print(gain_um=5.0))
    scene = Scene(job, LINEAR, look, shot)
    layers = all_layers(job, LINEAR, true_places(job, LINEAR, {}, shot), look, shot)
    whole = printed_light(scene, layers)
    window = Window(90, 61, 190, 260)
    part = printed_light(scene, layers, window)
    assert np.ptp(whole[window.slices]) > 0.3
    np.testing.assert_allclose(part, whole[window.slices], atol=1e-5)


def test_what_lies_outside_a_window_is_not_missed_in_it():
    """A mark across the window's border shows its half."""
    job, shot = job_of({"black": Disc(0.8)}), Shot(200, 200)
    truth = true_places(job, LINEAR, {}, shot)
    layers = all_layers(job, LINEAR, truth, DEEP, shot)
    part = printed_light(Scene(job, LINEAR, DEEP, shot), layers, Window(0, 0, 100, 200))
    whole = printed_light(Scene(job, LINEAR, DEEP, shot), layers)
    np.testing.assert_allclose(part, whole[:100], atol=1e-5)


def test_a_streak_is_as_bright_and_as_wide_as_asked_for():
    streak = Streak(gain=0.3, width_mm=0.5, aside_mm=0.24, turn_deg=0.0)
    look = Look(sensor=Sensor(exposure=0.5, bits=16), streaks=(streak,))
    frame, _ = draw_frame(job_of({"black": Disc(0.1)}), LINEAR, None, look, Shot(300, 400))
    down = frame.pixels[:, 20, 1].astype(float)
    bright = down / down[0] - 1.0
    middle = 149.5 + 0.24 / 0.012
    assert bright.max() == pytest.approx(0.3, abs=0.002)
    assert bright.argmax() == pytest.approx(middle, abs=1.0)
    one_sigma = np.interp(middle + 0.5 / 0.012, np.arange(300), bright)
    assert one_sigma == pytest.approx(0.3 * np.exp(-0.5), abs=0.005)


def test_a_turned_streak_runs_along_its_turn():
    streak = Streak(gain=0.4, width_mm=0.2, turn_deg=30.0)
    look = Look(sensor=Sensor(exposure=0.5, bits=16), streaks=(streak,))
    frame, _ = draw_frame(job_of({"black": Disc(0.1)}), LINEAR, None, look, Shot(300, 400))
    columns = np.array([50, 120, 280, 350])  # clear of the mark in the middle
    peaks = frame.pixels[:, columns, 1].argmax(axis=0)
    # Clockwise in an image whose rows grow downward: right goes down.
    assert np.diff(peaks) / np.diff(columns) == pytest.approx(np.tan(np.radians(30.0)), abs=0.02)


@pytest.mark.parametrize("mono", [False, True])
def test_jpeg_is_what_a_jpeg_file_would_hold(mono):
    clean = Look(sensor=Sensor(noise_grey=2.0, mono=mono))
    pressed = replace(clean, sensor=replace(clean.sensor, jpeg=Jpeg(70, halved_chroma=False)))
    shot = Shot(200, 304, seed=5)
    raw = draw_frame(job_of(), LINEAR, None, clean, shot)[0].pixels
    back = draw_frame(job_of(), LINEAR, None, pressed, shot)[0].pixels
    assert back.shape == raw.shape
    order = raw if mono else raw[..., ::-1]
    sampling = [cv2.IMWRITE_JPEG_SAMPLING_FACTOR, cv2.IMWRITE_JPEG_SAMPLING_FACTOR_444]
    _, data = cv2.imencode(".jpg", order, [cv2.IMWRITE_JPEG_QUALITY, 70, *sampling])
    theirs = cv2.imdecode(data, cv2.IMREAD_UNCHANGED)
    np.testing.assert_array_equal(back, theirs if mono else theirs[..., ::-1])
    assert 0.5 < np.abs(back.astype(float) - raw).mean() < 6.0


def test_halved_chroma_loses_more_colour():
    shot = Shot(200, 304)
    raw = draw_frame(job_of(), LINEAR, None, Look(), shot)[0].pixels.astype(float)
    lost = []
    for halved in (False, True):
        look = Look(sensor=Sensor(jpeg=Jpeg(90, halved_chroma=halved)))
        pixels = draw_frame(job_of(), LINEAR, None, look, shot)[0].pixels
        lost.append(np.abs(pixels - raw).mean())
    assert lost[1] > 1.5 * lost[0]


def test_one_plate_lays_its_ink_once():
    """Artwork that touches a mark of the same ink is no darker where they overlap."""
    job = job_of({"cyan": Disc(0.8)})
    look = replace(DEEP, patches=(Patch("cyan", 0.0, 0.3, 0.4, 1.0),))
    frame, truth = draw_frame(job, LINEAR, None, look, Shot(160, 260))
    mark = truth.marks[0]
    row, col = round(mark.row_px), round(mark.col_px)
    dark = darkness(frame.pixels)
    assert dark[row, col + round(0.2 / 0.012)] == pytest.approx(dark[row, col - 20], rel=1e-3)
    assert dark.max() <= dark[row, col - 20] * 1.001
