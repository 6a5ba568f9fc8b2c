"""Marked-up frames: places to the pixel, signs that cannot be mixed up, labels off the marks."""

import numpy as np
import pytest

from regscan.camera.camera import Camera
from regscan.recording.frame import Frame, FrameInfo
from regscan.report.display import for_the_eye
from regscan.report.overlay import draw_overlay
from regscan.report.pen import plain_text
from regscan.report.sights import sights
from tests.report.invented import invented_camera

GREY = 200


def one_frame(invented, name="0061.png", dtype=np.uint8):
    run, offsets, marks = invented
    pixels = np.full((480, 640, 3), GREY, dtype)
    frame = Frame(FrameInfo(name, 60), pixels)
    pick = [table[table["frame"] == name].copy() for table in (marks, offsets)]
    return frame, *pick, run.job


def seen(invented, ink, **changes):
    _, marks, offsets, job = one_frame(invented, **changes)
    found = {s.ink: s for s in sights(marks, offsets, job, invented_camera(), 5)}
    return found[ink]


def test_design_place_comes_from_the_reference_and_the_layout(invented):
    """Black lies at its design place; magenta's design is 1.4 mm before it on both axes."""
    black, magenta = seen(invented, "black"), seen(invented, "magenta")
    step_px = 1.4 / 0.012
    assert magenta.design[0] == pytest.approx(black.measured[0] - step_px, abs=1e-6)
    assert magenta.design[1] == pytest.approx(black.measured[1] - step_px, abs=1e-6)


def test_offset_is_drawn_from_the_design_place_enlarged(invented):
    magenta = seen(invented, "magenta")
    for k in (0, 1):
        real = magenta.measured[k] - magenta.design[k]
        assert magenta.tip[k] - magenta.design[k] == pytest.approx(5 * real, abs=1e-3)
    assert magenta.box == pytest.approx((5 * 0.10 / 0.012,) * 2)


def test_a_missing_mark_keeps_its_design_place_and_says_missing(invented):
    white = seen(invented, "white")
    assert white.measured is None
    assert white.tip is None
    assert white.design is not None
    assert white.lines == ["1 white: MISSING"]


def test_a_doubtful_mark_says_so_with_its_reason(invented):
    yellow = seen(invented, "yellow", name="0031.png")
    assert yellow.lines[0] == "4 yellow: DOUBTFUL"
    assert "something else" in " ".join(yellow.lines)


def test_without_the_reference_no_design_place_is_invented(invented):
    _, marks, offsets, job = one_frame(invented)
    marks["row_px"][marks["ink"] == "black"] = np.nan
    found = list(sights(marks, offsets, job, invented_camera(), 5))
    assert {s.design for s in found} == {None}
    assert all(s.tip is None for s in found)


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_picture_is_eight_bit_colour_with_a_strip_below(invented, dtype):
    frame, marks, offsets, job = one_frame(invented, dtype=dtype)
    drawn = draw_overlay(frame, marks, offsets, job, invented_camera())
    assert drawn.dtype == np.uint8
    assert drawn.shape[2] == 3
    assert drawn.shape[1] == 2 * 640  # small frames are enlarged by a whole number
    assert 2 * 480 < drawn.shape[0] < 2 * 480 + 120
    assert (drawn[: 2 * 480] != GREY).any()


def test_labels_cover_no_measured_mark(invented):
    """Around every measured place the frame shows through: no label's dark ground lies there."""
    frame, marks, offsets, job = one_frame(invented, name="0001.png")
    drawn = draw_overlay(frame, marks, offsets, job, invented_camera())
    for row in marks:
        y, x = round(2 * row["row_px"]), round(2 * row["col_px"])
        around = drawn[y - 20 : y + 20, x - 20 : x + 20]
        assert (around == GREY).all(axis=2).mean() > 0.4


def test_missing_and_doubtful_look_different_from_each_other_and_from_good(invented):
    frame, marks, offsets, job = one_frame(invented, name="0001.png")
    pictures = []
    for status in ("ok", "doubtful", "missing"):
        changed, rows = marks.copy(), offsets.copy()
        for table in (changed, rows):
            table["status"][table["ink"] == "cyan"] = status
        pictures.append(draw_overlay(frame, changed, rows, job, invented_camera()))
    row = marks[marks["ink"] == "cyan"][0]
    y, x = round(2 * row["row_px"]), round(2 * row["col_px"])
    patches = [p[y - 60 : y + 60, x - 60 : x + 60].astype(int) for p in pictures]
    for one, other in ((0, 1), (0, 2), (1, 2)):
        # Told apart in grey as well: never by colour alone.
        assert (np.abs((patches[one] - patches[other]).mean(axis=2)) > 60).sum() > 150


@pytest.mark.parametrize("mosaic", ["rggb", "bggr", "grbg", "gbrg"])
def test_a_mosaic_of_one_colour_shows_as_that_colour(mosaic):
    colour = {"r": 200, "g": 90, "b": 30}
    pixels = np.zeros((8, 8), np.uint8)
    for k, letter in enumerate(mosaic):
        pixels[k // 2 :: 2, k % 2 :: 2] = colour[letter]
    shown = for_the_eye(Frame(FrameInfo("raw", 0), pixels), Camera(0.01, 0.01, mosaic=mosaic))
    assert shown[4, 4].tolist() == [200, 90, 30]


def test_mono_and_linear_frames_are_shown_as_the_eye_wants_them():
    """Linear light 0.2158 is sRGB code 128 (IEC 61966-2-1, recomputed)."""
    frame = Frame(FrameInfo("mono", 0), np.full((4, 4), round(0.2158 * 65535), np.uint16))
    assert for_the_eye(frame, Camera(0.01, 0.01, tone="linear"))[0, 0].tolist() == [128] * 3
    assert for_the_eye(frame, Camera(0.01, 0.01))[0, 0].tolist() == [55] * 3


def test_names_beyond_plain_letters_lose_only_their_accents():
    assert plain_text("2 Grün, café") == "2 Grun, cafe"
    assert plain_text("3 Чёрный").startswith("3 ???")
