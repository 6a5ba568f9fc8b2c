"""Frames that cannot tell are refused, each with what is missing."""

from dataclasses import replace

import numpy as np
import pytest

from regscan.camera.camera import Camera
from regscan.errors import BadFrames
from regscan.instrument.plate import Plate
from regscan.simulator.look import Lens, Look, Sensor
from regscan.simulator.target import Target
from tests.instrument.drawn_grids import MONO, SMALL, calibrated, draw, save

DOTS = Target(0.45, 9, 11, dot_mm=0.22)
STRAIGHT = Camera(0.012, 0.012)
PLATE = Plate(0.45)


@pytest.fixture(scope="session")
def good(tmp_path_factory):
    folder = tmp_path_factory.mktemp("good")
    return draw(folder, "good.png", DOTS, camera=STRAIGHT, look=MONO, size=SMALL, seed=1)


def drawn(tmp_path, target=DOTS, name="grid.png", **how):
    how = {"camera": STRAIGHT, "look": MONO, "size": SMALL, "seed": 1, **how}
    return draw(tmp_path, name, target, **how)


def refused(paths, plate=PLATE, given=None, checks=()):
    with pytest.raises(BadFrames) as caught:
        calibrated(paths, plate, given, checks)
    assert all(problem.cure for problem in caught.value.problems)
    return str(caught.value)


def test_a_good_grid_is_not_refused(good):
    assert calibrated([good], Plate(0.45, dot_mm=0.22), STRAIGHT).rms_px < 0.03


@pytest.mark.parametrize("pitch_mm", [0.225, 0.3, 0.9])
def test_a_pitch_that_the_camera_file_contradicts(good, pitch_mm):
    said = refused([good], Plate(pitch_mm), STRAIGHT)
    assert "--pitch-mm: nodes lie 37.5 px apart, which is 0.45 mm" in said


def test_a_pitch_that_the_dots_contradict(good):
    said = refused([good], Plate(0.9, dot_mm=0.22))
    assert "--dot-mm: dots are 0.51 of their distance wide" in said


def test_a_blurred_grid(tmp_path):
    blurred = Look(lens=Lens(blur_px=7.0), sensor=Sensor(noise_grey=2.0, mono=True))
    said = refused([drawn(tmp_path, look=blurred)])
    assert "blurred" in said
    assert "focus" in said


def test_a_grid_so_blurred_that_hardly_a_shade_is_left(tmp_path):
    blurred = Look(lens=Lens(blur_px=14.0), sensor=Sensor(noise_grey=1.0, mono=True))
    assert "focus on the grid" in refused([drawn(tmp_path, look=blurred)])


def test_too_few_dots(tmp_path):
    said = refused([drawn(tmp_path, Target(0.7, 4, 5, dot_mm=0.3))], Plate(0.7))
    assert "only 20 nodes in 1 frame, 30 are needed" in said


def test_hardly_any_dots(tmp_path):
    said = refused([drawn(tmp_path, Target(0.9, 3, 3, dot_mm=0.4))], Plate(0.9))
    assert "no grid found: 9 dots that lie on a square grid, 12 are needed" in said


def test_dots_only_in_a_corner(tmp_path):
    target = Target(0.2, 8, 8, dot_mm=0.1)
    said = refused([drawn(tmp_path, target, origin_px=(60.0, 70.0))], Plate(0.2))
    assert "covers only" in said
    assert "the lower half and the right half" in said
    assert "give more frames with the grid elsewhere" in said


def test_corners_of_several_frames_make_a_field(tmp_path):
    target = Target(0.2, 7, 9, dot_mm=0.1)
    places = [(65.0, 80.0), (65.0, 240.0), (175.0, 80.0), (175.0, 240.0)]
    paths = [
        drawn(tmp_path, target, f"{k}.png", origin_px=place, seed=k)
        for k, place in enumerate(places)
    ]
    assert "covers only" in refused(paths[:1], Plate(0.2))
    assert calibrated(paths, Plate(0.2)).rms_px < 0.03


def test_a_grid_that_is_not_regular(tmp_path):
    said = refused([drawn(tmp_path, replace(DOTS, wander_um=25.0))])
    assert "the grid is not regular" in said


def test_scattered_dots(tmp_path):
    said = refused([drawn(tmp_path, Target(9.0, 2, 2, dot_mm=0.2, dust=90, dust_um=120.0))])
    assert "grid" in said


@pytest.mark.parametrize("grey", [0, 90, 255])
def test_an_even_frame(tmp_path, grey):
    path = save(tmp_path, "even.png", np.full((240, 320), grey, np.uint8))
    assert "even.png: is one even colour" in refused([path])


@pytest.mark.parametrize("kind", ["dots", "chessboard"])
def test_noise_is_no_grid(tmp_path, kind):
    noise = np.random.default_rng(1).integers(0, 256, (240, 320, 3)).astype(np.uint8)
    refused([save(tmp_path, "noise.png", noise)], Plate(0.45, kind))


@pytest.mark.parametrize("size", [(1, 1), (3, 400), (16, 16)])
@pytest.mark.parametrize("kind", ["dots", "chessboard"])
def test_a_tiny_frame(tmp_path, size, kind):
    pixels = np.random.default_rng(1).integers(0, 256, size).astype(np.uint8)
    refused([save(tmp_path, "tiny.png", pixels)], Plate(0.45, kind))


def test_a_chessboard_called_dots_and_dots_called_a_chessboard(good, tmp_path):
    board = drawn(tmp_path, Target(0.45, 6, 8, "chessboard"))
    refused([board])
    refused([good], Plate(0.45, "chessboard"))


def test_frames_that_cannot_be_read_are_told_and_left_out(good, tmp_path):
    broken = tmp_path / "broken.png"
    broken.write_bytes(good.read_bytes()[:3000])
    assert "broken.png" in refused([broken])
    found = calibrated([good, broken])
    assert any("broken.png" in note and "not used" in note for note in found.notes)


def test_frames_of_another_size_are_told_and_left_out(good, tmp_path):
    other = drawn(tmp_path, name="other.png", size=(300, 320))
    found = calibrated([good, other])
    assert any("is 320 x 300 pixels, the others are 320 x 240" in note for note in found.notes)
    assert [f.frame for f in found.frames] == ["good.png"]


def test_a_check_frame_at_another_distance(good, tmp_path):
    nearer = Camera(0.01195, 0.01195)
    check = drawn(tmp_path, name="check.png", camera=nearer, seed=2)
    said = refused([good], checks=(check,))
    assert "check.png: it is +0.4" in said
    assert "% longer than calibrated, circumferential" in said


def test_a_check_frame_held_askew(good, tmp_path):
    from regscan.camera.lens import Lens as Glass

    tilted = Camera(0.012, 0.012, lens=Glass(*SMALL, (119.5, 159.5), keystone_px=(5.0, 0.0)))
    check = drawn(tmp_path, name="check.png", camera=tilted, seed=2)
    assert "its residual is" in refused([good], checks=(check,))


def test_a_check_frame_without_a_grid(good, tmp_path):
    check = save(tmp_path, "check.png", np.full((240, 320), 90, np.uint8))
    assert "check.png: is one even colour" in refused([good], checks=(check,))


def test_all_problems_at_once(good, tmp_path):
    even = save(tmp_path, "even.png", np.full((240, 320), 90, np.uint8))
    said = refused([good, even], Plate(0.9, dot_mm=0.22), STRAIGHT)
    for words in ("--pitch-mm:", "--dot-mm:", "even.png:"):
        assert words in said
