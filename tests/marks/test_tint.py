"""Marks printed as tints: dots are found, and cut dots do not take the outline's place along."""

import math

import numpy as np
import pytest

from regscan.camera.camera import Camera
from regscan.job.layout import Diamond, Disc, Square
from regscan.marks.finder import MarkFinder
from regscan.marks.shape.screen import screen_of
from regscan.marks.shape.template import Appearance, Template
from regscan.simulator.defects import Halftone
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Lens, Look, Sensor, Shot
from tests.marks.conftest import six_colours

CAMERA = Camera(0.012, 0.012)
SHAPES = (Disc(1.2), Square(1.1), Diamond(1.4, 1.4), Disc(0.8), Disc(1.2), Square(1.1))


@pytest.mark.parametrize(("tint", "lines"), [(0.32, 54.0), (0.5, 70.0), (0.68, 60.0)])
def test_a_tint_is_placed_as_well_as_a_solid_and_not_doubted(tint, lines):
    job = six_colours(SHAPES)
    angles = {"cyan": 15.0, "magenta": 75.0, "yellow": 0.0, "green": 45.0}
    screens = [
        Halftone(ink, tint, lines, angle, (0.3, 0.6 + angle / 100.0))
        for ink, angle in angles.items()
    ]
    look = Look(sensor=Sensor(noise_grey=2.0), defects=tuple(screens))
    frame, truth = draw_frame(job, CAMERA, {}, look, Shot(480, 640, seed=5))
    for mark in MarkFinder(job, CAMERA).measure(frame):
        there = truth.mark(mark.ink)
        error = np.array([mark.row_px - there.row_px, mark.col_px - there.col_px])
        assert mark.status == "ok", (mark.ink, mark.flags)
        assert np.abs(error).max() < 0.05
        assert np.abs(error / np.sqrt([mark.row_var, mark.col_var])).max() < 4.0
        if mark.ink in angles:
            assert abs(mark.printing.fill - tint) < 0.2
        else:
            assert mark.printing.fill > 0.95


def test_dots_are_found_however_soft_the_outline_seems():
    """Diamonds whose sides cut the screen askew: fitted as solids they seem three times as soft
    down the rows as along the columns, or the other way round, as the phase has it."""
    job = six_colours((Diamond(1.4, 1.4),) * 6)
    finder, rng = MarkFinder(job, CAMERA), np.random.default_rng(8)
    for seed in range(4):
        screens = tuple(
            Halftone(mark.ink, rng.uniform(0.4, 0.6), 54.0, 37.5, tuple(rng.uniform(0, 1, 2)))
            for mark in job.marks
        )
        look = Look(lens=Lens(blur_px=1.35), sensor=Sensor(noise_grey=1.0), defects=screens)
        frame, truth = draw_frame(job, CAMERA, {}, look, Shot(480, 640, seed=seed))
        for mark in finder.measure(frame):
            there = truth.mark(mark.ink)
            assert mark.status == "ok", (seed, mark.ink, mark.flags)
            assert math.hypot(mark.row_px - there.row_px, mark.col_px - there.col_px) < 0.1


def test_a_tint_whose_edges_lie_between_its_dots_is_doubted():
    """Rows of dots along the sides of a square: no dot says where in the gap a side lies."""
    job = six_colours((*SHAPES[:5], Square(1.0)))
    # Seven rows and a half of 30 %: two sides cut dots, the two across lie between rows.
    screen = Halftone("brown", 0.3, 60.0, 0.0, (0.0, 0.25))
    look = Look(sensor=Sensor(noise_grey=1.0), defects=(screen,))
    frame, truth = draw_frame(job, CAMERA, {}, look, Shot(480, 640, seed=2))
    mark = MarkFinder(job, CAMERA).measure(frame)[5]
    there = truth.mark("brown")
    error = math.hypot(mark.row_px - there.row_px, mark.col_px - there.col_px)
    assert mark.status == "doubtful" or error < 4.0 * math.sqrt(mark.row_var + mark.col_var)


def drawn_dots(shape, period, turn, radius, softness=1.2):
    """Round dots drawn point by point, softened in the spectrum: shares no code with screens."""
    rows, cols = np.indices(shape) * 1.0
    along = (rows * math.cos(turn) + cols * math.sin(turn)) / period - 0.2
    across = (cols * math.cos(turn) - rows * math.sin(turn)) / period - 0.7
    far = period * np.hypot(along - np.round(along), across - np.round(across))
    sharp = np.clip(radius + 0.5 - far, 0.0, 1.0)
    down, right = np.fft.fftfreq(shape[0])[:, None], np.fft.fftfreq(shape[1])[None]
    soft = np.exp(-2.0 * (math.pi * softness) ** 2 * (down**2 + right**2))
    return np.fft.ifft2(np.fft.fft2(sharp) * soft).real


@pytest.mark.parametrize("turn_deg", [0.0, 15.0, 45.0, 82.5])
def test_the_lattice_of_drawn_dots_is_found(turn_deg):
    ink = drawn_dots((160, 160), 13.7, math.radians(turn_deg), 5.0)
    inside = np.hypot(*(np.indices(ink.shape) - 80.0)) < 45.0
    noisy = 0.3 * ink + 0.01 * np.random.default_rng(1).standard_normal(ink.shape)
    screen = screen_of(noisy, inside, (0.0, 0.0), CAMERA, (1.2, 1.2))
    periods = 1.0 / np.hypot(*screen.waves.T)
    assert periods == pytest.approx([13.7, 13.7], rel=0.003)
    turns = np.degrees(np.arctan2(screen.waves[:, 1], screen.waves[:, 0]))
    off = (turns - turn_deg + 45.0) % 90.0 - 45.0
    assert np.abs(off).max() < 0.3


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_solids_holes_and_noise_are_no_screen(seed):
    chance = np.random.default_rng(seed)
    inside = np.hypot(*(np.indices((120, 120)) - 60.0)) < 40.0
    noise = 0.05 * chance.standard_normal(inside.shape)
    holed = 1.0 + noise
    for row, col in chance.uniform(30.0, 90.0, (4, 2)):
        holed[np.hypot(*(np.indices(inside.shape) - np.array([[[row]], [[col]]]))) < 7.0] = 0.0
    for ink in (noise, 1.0 + noise, holed):
        assert screen_of(ink, inside, (0.0, 0.0), CAMERA, (1.1, 1.1)) is None


@pytest.mark.parametrize("seed", range(4))
def test_shading_is_no_screen(seed):
    """A long wave explains it as well, but not from where the spectrum's strongest one lies."""
    chance = np.random.default_rng(seed)
    turn, off = chance.uniform(0.0, 2.0 * math.pi), chance.uniform(-8.0, 8.0)
    rows, cols = np.indices((46, 46)) - 23.0
    along = rows * math.cos(turn) + cols * math.sin(turn) - off
    for ink in (along / 46.0, np.exp(-(along**2) / 60.0)):
        noisy = ink + chance.normal(0.0, 0.01, ink.shape)
        assert screen_of(noisy, ink == ink, (0.0, 0.0), CAMERA, (1.1, 1.1)) is None


def test_shifting_the_outline_of_a_tint_leaves_its_dots_where_they_are():
    """Planes of a tint against templates drawn anew about a centre a little further on."""
    ink = drawn_dots((160, 160), 14.0, 0.3, 5.0)
    inside = np.hypot(*(np.indices(ink.shape) - 80.0)) < 45.0
    screen = screen_of(ink, inside, (-80.0, -80.0), CAMERA, (1.2, 1.2))
    look, step = Appearance(1.2, 1.2), 0.25

    def dotted(row):
        return Template(
            Disc(1.0), CAMERA, look, lambda n, soft: screen.ink_about((row, 0.0), n, soft)
        )

    here = dotted(0.0).design((2, 2))
    # A centre a quarter pixel further down is the phase before, seen from the same pixels.
    after = dotted(step)._phase_planes((1, 2))[0]
    before = dotted(-step)._phase_planes((3, 2))[0]
    template = dotted(0.0)
    rows, cols = template.places + np.array([[template.half_rows], [template.half_cols]])
    change = (after - before)[rows, cols] / (2.0 * step)
    single = ~template.tile
    assert change[single] == pytest.approx(here[4, single], abs=0.03)
    well_inside = single & (np.hypot(*template.places) < 30.0)
    assert np.abs(here[4, well_inside]).max() < 1e-3
    assert np.ptp(here[3, well_inside]) > 0.5
