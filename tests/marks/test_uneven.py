"""Light that bends beside a mark is no print: marks at the rim of a streak are sure."""

from dataclasses import replace

import numpy as np
import pytest

from regscan.job.layout import Cross, Diamond, Disc, Ring, Square, Triangle
from regscan.marks.finder import MarkFinder
from regscan.marks.fitting.colourway import Piece
from regscan.marks.fitting.fit import fit_mark
from regscan.marks.fitting.reading import Patch
from regscan.marks.fitting.uneven import evened
from regscan.marks.shape.template import Appearance, template
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Look, Print, Sensor, Shot, Streak
from tests.marks.conftest import errors_px, six_colours

SIDE, MIDDLE = 91, 45.0


def test_marks_beside_a_streak_are_sure(camera):
    """One in twenty was taken to have other print against it."""
    shapes = Cross(0.6, 0.22), Ring(0.6, 0.28), Square(0.54), Disc(0.6), Diamond(0.66, 0.66)
    finder = MarkFinder(six_colours((*shapes, Triangle(0.66))), camera)
    rng = np.random.default_rng(3)
    off = []
    for seed in range(16):
        gain, aside, turn = rng.uniform((0.5, -1.5, -90.0), (1.2, 1.5, 90.0))
        streak = Streak(gain=gain, width_mm=0.4, aside_mm=aside, turn_deg=turn)
        sensor = Sensor(noise_grey=2.0, exposure=0.45)
        look = Look(sensor=sensor, streaks=(streak,), print=Print(roughness_um=2.0))
        frame, truth = draw_frame(finder.job, camera, {}, look, Shot(480, 640, seed=seed))
        marks = finder.measure(frame)
        assert {mark.status for mark in marks} == {"ok"}
        off.append(errors_px(marks, truth))
    assert np.sqrt(np.mean(np.square(off))) < 0.08  # of rough edges in even light: 0.065


def seen(camera, light, roughness=0.0, print_beside=0.0):
    """A disc of ink on paper under some light (SIDE x SIDE), as a piece and fitted."""
    drawn = template(Disc(0.5), camera, Appearance(1.0, 1.0))
    rows, cols = np.indices((SIDE, SIDE)) - MIDDLE
    distance = np.hypot(rows, cols) - 0.25 / camera.mm_per_px
    ink = np.clip(0.5 - distance / 2.5, 0.0, 1.0)
    shown = light * (0.8 - 0.6 * ink - print_beside * ((distance > 6) & (cols > 25)))
    shown += roughness * np.random.default_rng(1).normal(size=shown.shape)
    codes = np.clip(255.0 * shown, 0, 255).round().astype(np.uint8)[:, :, None]
    piece = Piece(codes, Patch((codes[..., 0] / 255.0).astype(np.float32)))
    return piece, drawn, fit_mark(piece.patch, drawn, MIDDLE, MIDDLE, near=True)


def bump(height, width_px, aside_px):
    """Light as a streak across the columns adds it."""
    cols = np.arange(SIDE) - MIDDLE
    return np.tile(1.0 + height * np.exp(-0.5 * ((cols - aside_px) / width_px) ** 2), (SIDE, 1))


@pytest.mark.parametrize("aside_px", [-40.0, 0.0, 24.0])
def test_a_piece_is_as_it_would_be_lit_evenly(camera, aside_px):
    piece, drawn, fit = seen(camera, bump(0.22, 20.0, aside_px), roughness=0.005)
    even = evened(piece, drawn, fit)
    plain, *_ = seen(camera, np.ones((SIDE, SIDE)), roughness=0.005)
    middle = slice(15, -15)
    ratio = even.patch.light[middle, middle] / plain.patch.light[middle, middle]
    assert np.median(np.abs(ratio / np.median(ratio) - 1.0)) < 0.02
    assert fit_mark(even.patch, drawn, MIDDLE, MIDDLE, near=True).misfit < 0.9 * fit.misfit


@pytest.mark.parametrize(
    ("light", "print_beside"),
    [
        (np.ones((SIDE, SIDE)), 0.0),
        (np.linspace(0.7, 1.1, SIDE)[:, None] * np.ones(SIDE), 0.0),
        (np.ones((SIDE, SIDE)), 0.3),
    ],
    ids=["even", "falling off", "other print beside it"],
)
def test_light_that_does_not_bend_is_left_alone(camera, light, print_beside):
    assert evened(*seen(camera, light, 0.005, print_beside)) is None


def test_pixels_beyond_full_scale_tell_nothing(camera):
    piece, drawn, fit = seen(camera, bump(0.5, 14.0, 40.0), roughness=0.005)
    even = evened(piece, drawn, fit)
    full = piece.codes[..., 0] == 255
    assert full.any()
    assert not even.patch.weight[full].any()
    assert even.patch.weight[~full].all()


def test_a_mark_of_which_too_much_lies_there_stays_as_it_is(camera):
    piece, drawn, fit = seen(camera, bump(0.8, 14.0, 18.0), roughness=0.005)
    assert evened(piece, drawn, fit) is None


def test_too_little_bare_paper_tells_nothing(camera):
    piece, drawn, fit = seen(camera, bump(0.2, 22.0, 30.0), roughness=0.005)
    weight = np.zeros((SIDE, SIDE), np.float32)
    weight[20:-20, 20:-20] = 1.0
    patch = replace(piece.patch, weight=weight)
    fit = fit_mark(patch, drawn, MIDDLE, MIDDLE, near=True)
    assert evened(replace(piece, patch=patch), drawn, fit) is None
