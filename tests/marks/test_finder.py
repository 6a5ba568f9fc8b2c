"""Drawn frames with known truth: every mark found, named and placed; doubt said where due."""

from dataclasses import replace

import numpy as np
import pytest

from regscan.camera.camera import Camera
from regscan.job.job import Colour, Ink, Station
from regscan.job.layout import Bar, Cross, Diamond, Disc, MarkDesign, Ring, Square, Triangle
from regscan.marks.finder import MarkFinder
from regscan.marks.flags import MarkFlag
from regscan.recording.frame import Frame
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Lens, Look, Patch, Print, Sensor, Shot, Specks, Streak
from tests.marks.conftest import LAB, errors_px, six_colours

NOISE = Sensor(noise_grey=2.0)
SHOT = Shot(480, 640, seed=1)


def shots(count, seed=0):
    """Seeded frames with every colour up to 0.25 mm off and the set anywhere in the frame."""
    rng = np.random.default_rng(seed)
    for number in range(count):
        offsets = {ink: tuple(rng.uniform(-0.25, 0.25, 2)) for ink in LAB}
        origin = rng.uniform(120, 220), rng.uniform(120, 190)
        yield offsets, Shot(480, 640, seed=number, origin_px=origin)


LOOKS = {
    "clean": (Look(sensor=NOISE), 0.012),
    "light falls off": (Look(lens=Lens(slope_grey=20.0), sensor=NOISE), 0.012),
    "dark corners": (Look(lens=Lens(vignette_grey=30.0), sensor=NOISE), 0.012),
    "soft": (Look(lens=Lens(blur_px=4.0), sensor=NOISE), 0.03),
    "sharp": (Look(lens=Lens(blur_px=0.4), sensor=NOISE), 0.012),
    "rim": (Look(print=Print(rim=0.3, gain_um=10.0), sensor=NOISE), 0.02),
    "pinholes": (Look(print=Print(pinholes_per_mm2=20.0), sensor=NOISE), 0.08),
    "16 bit": (Look(sensor=Sensor(noise_grey=2.0, bits=16)), 0.012),
    "mono": (Look(sensor=Sensor(noise_grey=2.0, mono=True)), 0.06),
}


@pytest.mark.parametrize("name", LOOKS)
def test_every_mark_is_found_and_placed(name, job, camera):
    look, limit_px = LOOKS[name]
    finder = MarkFinder(job, camera)
    for offsets, shot in shots(6):
        frame, truth = draw_frame(job, camera, offsets, look, shot)
        marks = finder.measure(frame)
        assert [m.ink for m in marks] == list(LAB)
        assert {m.status for m in marks} == {"ok"}
        assert np.abs(errors_px(marks, truth)).max() < limit_px


@pytest.mark.parametrize("sizes", [(0.010, 0.0125), (0.0125, 0.010)])
@pytest.mark.parametrize("spread_mm", [0.25, 1.3])
def test_ink_that_spreads_on_pixels_that_are_not_square_moves_nothing(sizes, spread_mm, job):
    """Nor does it look smeared: it spreads alike along and across the web. Marks apart, and as
    far off as a first print's, which lie on each other."""
    camera, look = Camera(*sizes), Look(print=Print(gain_um=15.0), sensor=NOISE)
    finder, rng = MarkFinder(job, camera), np.random.default_rng(0)
    for seed in range(3):
        offsets = {ink: tuple(rng.uniform(-spread_mm, spread_mm, 2)) for ink in LAB}
        offsets |= {"black": (0.0, 0.0)} if spread_mm > 1.0 else {}
        shot = Shot(900, 1100, seed=seed, origin_px=tuple(rng.uniform(240, 300, 2)))
        frame, truth = draw_frame(job, camera, offsets, look, shot)
        marks = finder.measure(frame)
        assert {(mark.status, mark.flags) for mark in marks} == {("ok", MarkFlag(0))}
        assert np.abs(errors_px(marks, truth)).max() < 0.03


@pytest.mark.parametrize("mosaic", ["rggb", "bggr", "grbg", "gbrg"])
def test_raw_mosaics_are_read_on_their_own_pattern(mosaic, job, camera):
    camera = replace(camera, mosaic=mosaic)
    finder = MarkFinder(job, camera)
    for offsets, shot in shots(3):
        frame, truth = draw_frame(job, camera, offsets, Look(sensor=NOISE), shot)
        marks = finder.measure(frame)
        assert {m.status for m in marks} == {"ok"}
        assert np.abs(errors_px(marks, truth)).max() < 0.03


def test_identity_comes_from_ink_not_from_place(job, camera):
    """All marks alike and two of them swapped: the inks must still get their own numbers."""
    job = six_colours((Disc(0.5),) * 6)
    finder = MarkFinder(job, camera)
    offsets = {"magenta": (0.0, 1.8), "yellow": (0.0, -1.8)}  # each on the other's place
    frame, truth = draw_frame(job, camera, offsets, Look(sensor=NOISE), Shot(480, 640, seed=5))
    marks = finder.measure(frame)
    found = {m.ink: m for m in marks}
    for ink in ("magenta", "yellow"):
        assert found[ink].col_px == pytest.approx(truth.mark(ink).col_px, abs=0.02)


def test_specks_and_artwork_do_not_fool_it(job, camera):
    look = Look(
        patches=(Patch("magenta", 3.6, 1.0, 3.0, 0.6), Patch("black", -1.4, 3.6, 2.0, 0.5)),
        specks=Specks(40),
        sensor=NOISE,
    )
    finder = MarkFinder(job, camera)
    for offsets, shot in shots(6, seed=3):
        frame, truth = draw_frame(job, camera, offsets, look, shot)
        marks = [m for m in finder.measure(frame) if m.status == "ok"]
        assert len(marks) >= 4
        assert np.abs(errors_px(marks, truth)).max() < 0.15


def test_an_ink_that_is_not_printed_is_missing(job, camera, without):
    frame, _ = draw_frame(without("cyan"), camera, {}, Look(sensor=NOISE), Shot(480, 640, seed=2))
    status = {m.ink: m.status for m in MarkFinder(job, camera).measure(frame)}
    assert status.pop("cyan") == "missing"
    assert set(status.values()) == {"ok"}


@pytest.mark.parametrize("grey", [0, 128, 255])
def test_a_frame_of_one_colour_has_no_marks(grey, job, camera):
    rng = np.random.default_rng(grey)
    codes = np.clip(grey + rng.normal(0, 2, (300, 400, 3)), 0, 255).astype(np.uint8)
    frame, _ = draw_frame(job, camera, {}, Look(), Shot(300, 400))
    marks = MarkFinder(job, camera).measure(Frame(frame.info, codes))
    assert {m.status for m in marks} == {"missing"}


def test_pure_noise_never_gives_a_confident_mark(job, camera):
    rng = np.random.default_rng(7)
    info = draw_frame(job, camera, {}, Look(), Shot(300, 400))[0].info
    for _ in range(5):
        codes = rng.integers(0, 256, (300, 400, 3), dtype=np.uint8)
        marks = MarkFinder(job, camera).measure(Frame(info, codes))
        assert "ok" not in {m.status for m in marks}


@pytest.mark.parametrize("code", [0, 128, 255])
def test_nothing_is_found_in_a_picture_of_one_colour(job, camera, code):
    """Beyond the border nothing is printed: one of an ink's own colour ends there like a mark."""
    info = draw_frame(job, camera, {}, Look(), Shot(300, 400))[0].info
    even = np.full((300, 400, 3), code, np.uint8)
    marks = MarkFinder(job, camera).measure(Frame(info, even))
    assert {mark.status for mark in marks} == {"missing"}


def test_a_mark_cut_by_the_border_is_never_ok(job, camera):
    finder = MarkFinder(job, camera)
    for cut_px in (4, 10, 18):
        # The disc (cyan) is 21 px in radius; push it over the left border.
        shot = Shot(480, 640, seed=1, origin_px=(150.0, 21.0 - cut_px))
        frame, _ = draw_frame(job, camera, {}, Look(sensor=NOISE), shot)
        status = {m.ink: m for m in finder.measure(frame)}
        assert status["cyan"].status != "ok"
        assert status["yellow"].status == "ok"


@pytest.mark.parametrize("beyond_mm", [0.03, 0.08, 0.13])
def test_marks_cut_by_the_border_lie_where_what_shows_of_them_does(job, camera, beyond_mm):
    """The upper row of three with its edges beyond the frame: doubtful, but in its place."""
    for seed in range(3):
        # The disc and the square have their edges 0.25 mm from their centres, the ring 0.3 mm.
        origin = (0.25 - beyond_mm) / camera.mm_per_px, 120.0
        shot = Shot(480, 640, seed=seed, origin_px=origin)
        frame, truth = draw_frame(job, camera, {}, Look(sensor=NOISE), shot)
        cut = {one.ink for one in truth.marks if one.row_px < 0.25 / camera.mm_per_px}
        assert len(cut) == 3
        marks = MarkFinder(job, camera).measure(frame)
        assert np.abs(errors_px(marks, truth)).max() < 0.1
        for mark in marks:
            assert mark.status == ("doubtful" if mark.ink in cut else "ok")
            assert bool(mark.flags & MarkFlag.CLIPPED) == (mark.ink in cut)


@pytest.mark.parametrize(
    "patch",
    [
        Patch("black", 0.0, 1.8 + 0.25, 0.3, 0.3),
        Patch("yellow", 0.0, 1.8 + 0.6, 0.4, 1.5),
        Patch("cyan", -0.9, 1.8, 2.0, 3.0),
    ],
)
def test_artwork_on_a_mark_does_not_move_it(job, camera, patch):
    """A block over its rim, a bar across it, a block under a half of it."""
    frame, truth = draw_frame(job, camera, {}, Look(patches=(patch,), sensor=NOISE), SHOT)
    magenta, true = MarkFinder(job, camera).measure(frame)[1], truth.mark("magenta")
    assert magenta.status == "ok"
    assert abs(magenta.row_px - true.row_px) < 5.0 * magenta.row_var**0.5 + 0.01
    assert abs(magenta.col_px - true.col_px) < 5.0 * magenta.col_var**0.5 + 0.01
    assert max(magenta.row_var, magenta.col_var) < 0.1**2


def test_a_mark_mostly_under_artwork_is_no_confident_guess(job, camera):
    look = Look(patches=(Patch("black", 0.0, 1.8 + 0.25, 0.9, 0.9),), sensor=NOISE)
    frame, _ = draw_frame(job, camera, {}, look, SHOT)
    assert MarkFinder(job, camera).measure(frame)[1].status != "ok"


def test_a_faint_frame_says_so(job, camera):
    dark = Look(sensor=Sensor(exposure=0.012, noise_grey=6.0))
    frame, truth = draw_frame(job, camera, {}, dark, Shot(480, 640, seed=1))
    marks = MarkFinder(job, camera).measure(frame)
    wrong = [
        m
        for m in marks
        if m.status == "ok" and abs(m.row_px - truth.mark(m.ink).row_px) > 5 * m.row_var**0.5 + 0.5
    ]
    assert wrong == []


def test_no_frame_size_or_type_makes_it_fail(job, camera):
    info = draw_frame(job, camera, {}, Look(), Shot(300, 400))[0].info
    for size in ((1, 1), (1, 500), (17, 23), (64, 64, 3)):
        for kind in (np.uint8, np.uint16):
            codes = np.full(size, np.iinfo(kind).max // 2, kind)
            marks = MarkFinder(job, camera).measure(Frame(info, codes))
            assert {m.status for m in marks} == {"missing"}


@pytest.mark.parametrize(
    ("shown_mm", "why"),
    [(0.25, MarkFlag.CROWDED), (0.1, MarkFlag.NO_FIT), (-0.05, MarkFlag.NO_FIT)],
)
def test_flags_say_why(job, camera, shown_mm, why):
    """Less and less of a ring of 0.6 mm shows beside a block."""
    look = Look(patches=(Patch("black", 0.0, 1.95 + shown_mm, 0.9, 0.9),), sensor=NOISE)
    frame, _ = draw_frame(job, camera, {}, look, SHOT)
    magenta = MarkFinder(job, camera).measure(frame)[1]
    assert magenta.status != "ok"
    assert why in magenta.flags


def test_a_smaller_triangle_of_the_same_shape_is_doubted(camera):
    """Half a triangle, cut along a side, is a whole small one: only its size tells."""
    job = six_colours((Triangle(0.66),) * 6)
    small = replace(job, marks=tuple(replace(m, shape=Triangle(0.56)) for m in job.marks))
    frame, _ = draw_frame(small, camera, {}, Look(sensor=NOISE), Shot(480, 640, seed=2))
    marks = MarkFinder(job, camera).measure(frame)
    assert {m.status for m in marks} == {"doubtful"}
    assert all(MarkFlag.MISSHAPEN in m.flags for m in marks)


@pytest.mark.parametrize("behind", [(15.0, 0.0, 0.0), (17.0, 0.0, 0.0), (20.0, 0.0, -2.0)])
def test_black_on_white_is_found_before_a_backing_as_dark(behind, camera):
    """Film with a block of opaque white, and the colours on it: where black lies on white the
    film's dark backing seems to show through."""
    job = six_colours()
    white = Ink("white", Colour("lab", (93.0, 0.0, -1.0)), "opaque")
    inks = (white, *(replace(ink, cover="opaque") for ink in job.inks))
    own = job.press.stations
    stations = (Station(1, "white", 0.0), *(replace(s, number=s.number + 1) for s in own))
    block = MarkDesign("white", Bar(4.8, 3.0), 0.9, 1.8)
    job = replace(
        job,
        inks=inks,
        press=replace(job.press, stations=stations),
        substrate=Colour("lab", behind),
        marks=(block, *job.marks),
    )
    for seed in (1, 2):
        frame, truth = draw_frame(job, camera, {}, Look(sensor=NOISE), Shot(480, 640, seed=seed))
        marks = MarkFinder(job, camera).measure(frame)
        assert {m.status for m in marks} == {"ok"}
        assert np.abs(errors_px(marks, truth)).max() < 0.05


def test_marks_in_a_streak_and_beside_it_are_found(camera):
    """A lamp's streak, partly beyond full scale: no one reading of the light shows all marks."""
    shapes = (Cross(0.6, 0.22), Ring(0.6, 0.28), Square(0.54), Disc(0.6), Diamond(0.66, 0.66))
    job = six_colours((*shapes, Triangle(0.66)))
    finder = MarkFinder(job, camera)
    rng = np.random.default_rng(3)
    for seed in range(12):
        gain, aside, turn = rng.uniform((0.5, -1.5, -90.0), (2.5, 1.5, 90.0))
        streak = Streak(gain=gain, width_mm=0.6, aside_mm=aside, turn_deg=turn)
        look = Look(sensor=Sensor(noise_grey=2.0, exposure=0.45), streaks=(streak,))
        frame, truth = draw_frame(job, camera, {}, look, Shot(480, 640, seed=seed))
        marks = finder.measure(frame)
        assert "missing" not in {m.status for m in marks}
        assert np.abs(errors_px(marks, truth)).max() < 0.3


@pytest.mark.parametrize("lightness", [6.0, 12.0])
def test_pale_inks_before_a_backing_as_dark_as_black_are_told_apart(camera, lightness):
    """Film before a black table: the light is read from what little the backing sends back."""
    pale = {
        "white": (95.0, 0.0, -2.0),
        "silver": (72.0, 0.0, 0.0),
        "sky": (74.0, -14.0, -24.0),
        "lemon": (92.0, -8.0, 55.0),
    }
    job = six_colours((Disc(0.6),) * 6)
    inks = tuple(Ink(name, Colour("lab", lab), cover="opaque") for name, lab in pale.items())
    stations = tuple(Station(n + 1, name, 1.0) for n, name in enumerate(pale))
    marks = tuple(replace(mark, ink=name) for mark, name in zip(job.marks[:4], pale, strict=True))
    backing = Colour("lab", (lightness, 0.0, 0.0))
    press = replace(job.press, stations=stations)
    job = replace(job, press=press, inks=inks, substrate=backing, reference="white", marks=marks)
    for seed in (1, 2):
        frame, truth = draw_frame(job, camera, {}, Look(sensor=NOISE), Shot(480, 640, seed=seed))
        found = MarkFinder(job, camera).measure(frame)
        assert {mark.status for mark in found} == {"ok"}
        assert np.abs(errors_px(found, truth)).max() < 0.05
