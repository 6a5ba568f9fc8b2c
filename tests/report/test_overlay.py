"""Marked-up frames: places to the pixel, signs that cannot be mixed up, labels off the marks."""

from dataclasses import replace

import numpy as np
import pytest

from regscan.camera.camera import Camera
from regscan.camera.lens import Lens
from regscan.job.job import Colour, Ink, Station, Steps
from regscan.job.layout import Disc, MarkDesign
from regscan.recording.frame import Frame, FrameInfo
from regscan.report.display import for_the_eye
from regscan.report.overlay import Shown, Style, draw_overlay, labelled, mark_up
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
    assert 2 * 480 < drawn.shape[0] < 2 * 480 + 200
    assert (drawn[: 2 * 480] != GREY).any()


def ink_of(sight, shape):
    """Where one mark's ink lies in the picture, drawn by OpenCV: at its place, or its design's."""
    import cv2

    x, y = sight.measured or sight.design
    mask = np.zeros(shape, np.uint8)
    outlines = [np.round(np.add(part, (x, y))).astype(np.int32) for part in sight.outline]
    cv2.fillPoly(mask, outlines, 1)
    return mask.astype(bool)


def crowded(invented, pitch_mm, count=10):
    """A frame of 640 x 480 px with marks at a pitch, one of them doubtful and one missing."""
    run, offsets, marks = invented
    inks = tuple(f"colour {k}" for k in range(count))
    places = [(pitch_mm * (k // 4 - 1), pitch_mm * (k % 4 - 1.5)) for k in range(count)]
    job = replace(
        run.job,
        reference=inks[0],
        inks=tuple(Ink(ink, Colour("lab", (50.0, 0.0, 0.0))) for ink in inks),
        marks=tuple(MarkDesign(i, Disc(0.6), *at) for i, at in zip(inks, places, strict=True)),
        press=replace(
            run.job.press,
            stations=tuple(Station(k + 1, i, 1.0, Steps(0.01, 0.01)) for k, i in enumerate(inks)),
        ),
    )
    offsets, marks = offsets[:count].copy(), marks[:count].copy()
    for table in (offsets, marks):
        table["frame"], table["ink"], table["status"] = "0001.png", inks, "ok"
        table["status"][3], table["status"][7] = "doubtful", "missing"
    offsets["note"][3] = "something else is printed on or against the mark"
    offsets["circumferential_mm"], offsets["lateral_mm"] = 0.06, -0.05
    for (along, across), row in zip(places, marks, strict=True):
        row["row_px"], row["col_px"] = 240 + along / 0.012, 320 + across / 0.012
    for name in ("row_px", "col_px"):
        marks[name][7] = np.nan
    pixels = np.full((480, 640, 3), GREY, np.uint8)
    return Shown(Frame(FrameInfo("0001.png", 0), pixels), marks, offsets, job, invented_camera())


@pytest.mark.parametrize("pitch_mm", [1.7, 1.2, 0.9, 0.5])
def test_labels_cover_no_mark_and_no_sign_however_crowded(invented, pitch_mm):
    """Checked on pixels: marks filled by OpenCV, labels as the rectangles they are drawn in."""
    marked = mark_up(crowded(invented, pitch_mm))
    pen, labels = labelled(marked, [sight.lines for sight in marked.seen])
    covered = np.zeros(pen.picture.shape[:2], int)
    for box in labels:
        top, left = round(box.top), round(box.left)
        covered[top : round(box.top + box.height), left : round(box.left + box.width)] += 1
    assert len(marked.seen) == len(labels) == 10
    assert covered.max() == 1  # no label covers another
    for sight in marked.seen:
        assert not covered[ink_of(sight, covered.shape)].any(), sight.ink
    rows, cols = marked.pen.picture.shape[:2]
    drawn = (marked.pen.picture != GREY).any(axis=2)  # every sign, whatever its shape
    assert not covered[:rows, :cols][drawn].any()


def test_a_label_is_as_large_as_its_words(invented):
    marked = mark_up(crowded(invented, 1.2))
    pen, labels = labelled(marked, [sight.lines for sight in marked.seen])
    for sight, box in zip(marked.seen, labels, strict=True):
        assert (box.width, box.height) == pytest.approx(pen.text_size(sight.lines))


def test_a_lens_bends_the_design_place_and_enlarging_the_picture_does_not(invented):
    """The design place in the enlarged picture is the enlarged one of the frame itself."""
    shown = crowded(invented, 1.2)
    bent = replace(shown.camera, lens=Lens(480, 640, (240.0, 320.0), radial_px=(9.0,)))
    small = list(sights(shown.marks, shown.offsets, shown.job, bent, 2))
    large = mark_up(replace(shown, camera=bent), Style(enlarged=2)).seen
    for one, other in zip(small, large, strict=True):
        assert np.array(other.design) == pytest.approx((np.array(one.design) + 0.5) * 2 - 0.5)
    straight = list(sights(shown.marks, shown.offsets, shown.job, shown.camera, 2))
    assert np.hypot(*(np.array(small[9].design) - straight[9].design)) > 0.02


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
    assert plain_text("0.152 ±0.004 mm") == "0.152 +-0.004 mm"
    assert plain_text("3 Чёрный").startswith("3 ???")
