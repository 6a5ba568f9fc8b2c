"""The picture of the marks: to scale, the right way round, never into each other."""

from dataclasses import replace

import pytest

from regscan.job.job import CameraPost
from regscan.job.layout import (
    Bar,
    Cross,
    Diamond,
    Disc,
    MarkDesign,
    Polygon,
    Ring,
    Square,
    Triangle,
)
from regscan.report.labels import Box
from regscan.report.magnify import magnification
from regscan.report.outlines import outlines
from regscan.report.picture import leader, pictures
from regscan.report.views import View

ONE = [View("", "")]


def mark(run, ink, **camera):
    turned = replace(run, cameras=(replace(run.cameras[0], **camera),))
    picture = pictures(turned, ONE)[0]
    return picture, next(m for m in picture["marks"] if m["ink"] == ink)


@pytest.mark.parametrize(
    ("travel", "drive", "axis", "sign"),
    # Web travel up: late lies below (+ y). Drive side right: + lateral is + x. And all turned.
    [
        ("up", "right", 1, +1),
        ("down", "right", 1, -1),
        ("left", "up", 0, +1),
        ("right", "up", 0, -1),
    ],
)
def test_late_lies_against_web_travel(invented, travel, drive, axis, sign):
    _, cyan = mark(invented[0], "cyan", web_travel=travel, drive_side=drive)
    assert cyan["shift"][axis] * sign > 0
    assert abs(cyan["shift"][1 - axis]) < 0.1 * abs(cyan["shift"][axis])


def test_shift_and_box_have_one_scale_and_the_stated_magnification(invented):
    run = invented[0]
    picture, magenta = mark(run, "magenta")
    black = next(m for m in picture["marks"] if m["ink"] == "black")
    design = {m.ink: m for m in run.job.marks}
    units = (black["at"][0] - magenta["at"][0]) / (
        design["black"].lateral_mm - design["magenta"].lateral_mm
    )
    track = next(t for t in run.drift.tracks if (t.ink, t.axis) == ("magenta", "lateral"))
    enlarged = units * picture["magnification"]
    assert magenta["shift"][0] == pytest.approx(track.settled.mean_mm * enlarged, abs=0.02)
    assert magenta["tolerance"][0] == pytest.approx(0.10 * enlarged, abs=0.02)


def test_labels_and_drawn_things_lie_in_the_frame_of_the_picture(invented):
    picture, _ = mark(invented[0], "cyan")
    left, top, width, height = picture["box"]
    for m in picture["marks"]:
        x, y, wide, high = m["label"]
        assert left <= x
        assert x + wide <= left + width
        assert top <= y
        assert y + high <= top + height


def test_a_label_away_from_its_mark_has_a_line_to_it(invented):
    mark_box = Box.about(100.0, 100.0, 20.0, 20.0)
    assert leader(Box(80.0, 30.0, 60.0, 44.0), mark_box) is None
    assert leader(Box(80.0, -60.0, 60.0, 44.0), mark_box) == [100.0, -16.0, 110.0, 80.0]
    assert all(m["leader"] is None for m in pictures(invented[0], ONE)[0]["marks"])


def test_magnification_is_round_and_keeps_neighbours_apart():
    near = [MarkDesign("a", Disc(0.6), 0.0, 0.0), MarkDesign("b", Disc(0.6), 0.0, 1.6)]
    assert magnification([0.1, 0.1], near) == 5
    assert magnification([0.1, 0.9], near) == 1
    assert magnification([0.1], near[:1]) == 10


def test_unknown_level_is_drawn_as_missing_not_at_zero(invented):
    run = invented[0]
    tracks = tuple(replace(t, settled=None) if t.ink == "cyan" else t for t in run.drift.tracks)
    lost = replace(run, drift=replace(run.drift, tracks=tracks))
    _, cyan = mark(lost, "cyan")
    assert cyan["state"] == "missing"
    unknown = {"mm": None, "doubt": None, "words": "circumferential: unknown", "worst": False}
    assert cyan["figures"][0] == unknown


def test_every_figure_beside_a_mark_has_its_doubt(invented):
    run = invented[0]
    _, magenta = mark(run, "magenta")
    levels = {t.axis: t.settled for t in run.drift.tracks if t.ink == "magenta"}
    for figure, (axis, level) in zip(magenta["figures"], levels.items(), strict=False):
        assert figure["doubt"]["mm"] == level.sd_mm
        late_or_drive = ("late", "to drive side")[axis == "lateral"]
        assert (figure["words"] == late_or_drive) == (level.mean_mm > 0.0005)
    small = tuple(
        replace(t, settled=replace(t.settled, sd_mm=0.0002)) if t.ink == "magenta" else t
        for t in run.drift.tracks
    )
    _, sure = mark(replace(run, drift=replace(run.drift, tracks=small)), "magenta")
    assert sure["figures"][0]["doubt"] == {"mm": 0.0002, "decimals": 4}  # not written as none


def area(points):
    pairs = zip(points, points[1:] + points[:1], strict=True)
    return abs(sum(a * d - b * c for (a, b), (c, d) in pairs)) / 2


@pytest.mark.parametrize(
    ("shape", "wanted_mm2", "share"),
    # Plane geometry; circles are drawn as polygons of 48 corners (0.3 % less area).
    [
        (Disc(0.6), 0.28274, 4e-3),
        (Ring(0.8, 0.4), 0.37699, 4e-3),
        (Cross(0.8, 0.25, 20), 0.3375, 1e-9),
        (Square(0.7, 30), 0.49, 1e-9),
        (Diamond(0.8, 0.6), 0.24, 1e-9),
        (Bar(1.0, 0.2, 45), 0.2, 1e-9),
        (Triangle(0.7), 0.2121762, 1e-6),
        (Polygon(((0.0, 0.0), (0.3, 0.0), (0.0, 0.4)), 10), 0.06, 1e-9),
    ],
)
def test_outlines_have_the_shapes_area(shape, wanted_mm2, share):
    areas = [area(outline) for outline in outlines(shape)]
    assert areas[0] - sum(areas[1:]) == pytest.approx(wanted_mm2, rel=share)


def test_a_triangle_points_toward_the_unwind_and_a_bar_lies_across_the_web():
    tip = max(outlines(Triangle(0.7))[0])
    assert tip[0] == pytest.approx(0.7 / 3**0.5)
    across = [b for _, b in outlines(Bar(1.0, 0.2))[0]]
    assert max(across) == 0.5


def test_the_camera_that_sees_most_colours_comes_first(invented):
    run = invented[0]
    posts = (CameraPost("early", 2, 1.0), CameraPost("late", 5, 1.0), CameraPost("end", 6, 2.0))
    job = replace(run.job, press=replace(run.job.press, cameras=posts))
    found = pictures(replace(run, job=job), [View(post.name, "") for post in posts])
    # Station 6 prints the varnish: late and end see as many colours, and end is the last.
    assert [(len(p["marks"]), p["first"]) for p in found] == [(2, False), (5, False), (5, True)]
