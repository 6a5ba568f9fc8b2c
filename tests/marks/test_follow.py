"""Marks followed from frame to frame: numbers as if looked for anew, and never lost for good."""

from dataclasses import replace

import numpy as np
import pytest

from regscan.camera import lens as optics
from regscan.marks.finder import MarkFinder
from regscan.marks.finding.search import Search
from regscan.recording.frame import Frame
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Lens, Look, Sensor, Shot
from tests.marks.conftest import LAB

LOOK = Look(sensor=Sensor(noise_grey=2.0))
LENS = optics.Lens(
    480, 640, (240.0, 320.0), radial_px=(2.0,), red=optics.LateralColour(0.4, -0.3, 1.0)
)


@pytest.fixture
def looks_in_full(monkeypatch):
    """How often the whole frame was searched."""
    times = []
    seen = Search.seen

    def counted(self, view):
        times.append(view)
        return seen(self, view)

    monkeypatch.setattr(Search, "seen", counted)
    return times


def drawn(job, camera, places, offsets=None):
    """Frames with the mark set at each place (row, col) px and colours off by a little."""
    rng = np.random.default_rng(4)
    for number, place in enumerate(places):
        small = {ink: tuple(rng.uniform(-0.03, 0.03, 2)) for ink in LAB}
        shot = Shot(480, 640, seed=number, origin_px=place)
        yield draw_frame(job, camera, (offsets or {}).get(number, small), LOOK, shot)


def followed(finder, frames):
    before = []
    for frame, truth in frames:
        before = finder.follow(upper(frame, finder.rows(before)), before) or finder.measure(frame)
        yield frame, truth, before


def upper(frame, rows):
    """No more of a frame than its file need be decoded for: noise above, nothing below."""
    if rows is None:
        return frame
    pixels = frame.pixels[: rows.stop].copy()
    above = pixels[: rows.start]
    above[:] = np.random.default_rng(2).integers(0, 256, above.shape)
    return Frame(frame.info, pixels, len(frame.pixels))


def test_followed_marks_are_measured_as_if_looked_for_anew(job, camera, looks_in_full):
    finder, anew = MarkFinder(job, camera), MarkFinder(job, camera)
    wander = [(150 + 12 * np.sin(k), 150 + 15 * np.cos(1.7 * k)) for k in range(8)]
    for frame, _, marks in followed(finder, drawn(job, camera, wander)):
        full = anew.measure(frame)
        assert {m.status for m in marks} == {"ok"}
        for one, other in zip(marks, full, strict=True):
            assert one.row_px == pytest.approx(other.row_px, abs=0.002)
            assert one.col_px == pytest.approx(other.col_px, abs=0.002)
    assert len(looks_in_full) == 1 + len(wander)  # once to begin with, and those of `anew`


def test_a_set_that_jumps_is_found_again_in_the_same_frame(job, camera, looks_in_full):
    places = [(130.0, 130.0), (200.0, 220.0), (201.0, 221.0)]
    for _, truth, marks in followed(MarkFinder(job, camera), drawn(job, camera, places)):
        for mark in marks:
            there = truth.mark(mark.ink)
            assert mark.status == "ok"
            assert np.hypot(mark.row_px - there.row_px, mark.col_px - there.col_px) < 0.03
    assert len(looks_in_full) == 2


def test_a_colour_that_jumps_by_itself_is_found_in_the_same_frame(job, camera):
    far = {1: {"cyan": (0.0, 0.9)}, 2: {"cyan": (0.0, 0.9)}}
    frames = drawn(job, camera, [(150.0, 150.0)] * 3, far)
    for _, truth, marks in followed(MarkFinder(job, camera), frames):
        cyan = next(m for m in marks if m.ink == "cyan")
        assert cyan.status == "ok"
        assert abs(cyan.col_px - truth.mark("cyan").col_px) < 0.03


def test_a_colour_that_is_not_there_is_looked_for_everywhere(job, camera, without, looks_in_full):
    frames = list(drawn(without("green"), camera, [(150.0, 150.0)] * 3))
    for _, _, marks in followed(MarkFinder(job, camera), frames):
        assert [m.ink for m in marks if m.status == "missing"] == ["green"]
    assert len(looks_in_full) >= 3


def test_print_over_the_place_of_a_mark_ends_nothing(job, camera):
    """All of the picture is one dark ink: there is nothing left to be fitted."""
    finder = MarkFinder(job, camera)
    (first, _), *_ = drawn(job, camera, [(150.0, 150.0)])
    before = finder.measure(first)
    dark = Frame(first.info, np.full_like(first.pixels, 20))
    assert finder.follow(dark, before) is None
    assert {m.status for m in finder.measure(dark)} <= {"missing", "doubtful"}


def test_a_mark_unlike_the_others_is_followed_by_its_own_look(job, camera):
    """One ink may be softer in the picture: JPEG keeps colours more coarsely than light."""
    ((frame, _),) = drawn(job, camera, [(150, 150)])
    finder = MarkFinder(job, camera)
    marks = finder.measure(frame)
    search = Search(job, camera, finder.designs)
    usual, unlike = search.looks(marks)
    assert unlike == [None] * len(marks)

    mark, printing = marks[2], marks[2].printing
    softer = replace(
        printing,
        edge_circumferential_um=2.0 * printing.edge_circumferential_um,
        edge_lateral_um=2.0 * printing.edge_lateral_um,
    )
    marks[2] = replace(mark, edge_px=2.0 * mark.edge_px, printing=softer)
    again, unlike = search.looks(marks)
    assert again == usual
    assert [look is None for look in unlike] == [number != 2 for number in range(len(marks))]
    assert unlike[2].row_px == pytest.approx(2.0 * mark.edge_px, rel=0.1)  # a rung is 15 % wide
    followed = finder.follow(frame, marks)
    for one, other in zip(followed, finder.measure(frame), strict=True):
        assert one.row_px == pytest.approx(other.row_px, abs=0.002)
        assert one.col_px == pytest.approx(other.col_px, abs=0.002)


@pytest.mark.parametrize("turned_deg", [0.0, 45.0])
def test_how_soft_edges_look_is_told_whichever_way_the_web_runs(job, camera, turned_deg):
    """Softness is kept by the web's axes; at 45 degrees these do not tell the picture's apart."""
    turned = replace(camera, rotation_deg=turned_deg)
    finder = MarkFinder(job, turned)
    frame, _ = draw_frame(job, turned, {}, LOOK, Shot(640, 640, seed=1))
    marks = finder.measure(frame)
    usual, _ = Search(job, turned, finder.designs).looks(marks)
    assert usual.row_px == pytest.approx(np.median([m.edge_px for m in marks]), rel=0.1)
    assert usual.row_px == usual.col_px


@pytest.mark.parametrize("blur_px", [1.0, 2.5, 4.0])
@pytest.mark.parametrize(
    "more", [{}, {"mosaic": "rggb"}, {"lens": LENS}], ids=["", "mosaic", "lens"]
)
def test_what_lies_beyond_the_rows_looked_at_changes_nothing(job, camera, blur_px, more):
    """Not to the last digit, even where marks were crisp and are soft now, and moved down."""
    seeing = replace(camera, **more)
    finder, shot = MarkFinder(job, seeing), Shot(480, 640, seed=2, origin_px=(150.0, 150.0))
    first, _ = draw_frame(job, seeing, {}, LOOK, shot)
    before = finder.measure(first)
    soft = replace(LOOK, lens=Lens(blur_px=blur_px))
    moved = replace(shot, seed=3, origin_px=(170.0, 160.0))
    frame, _ = draw_frame(job, seeing, {}, soft, moved)
    whole, part = frame, upper(frame, finder.rows(before))
    assert len(part.pixels) < len(whole.pixels)
    marks = finder.follow(whole, before)
    assert marks
    assert finder.follow(part, before) == marks
