"""Marks by their outlines: edges of any ground, the ink's step, places whose doubt is true."""

import cv2
import numpy as np
import pytest

from regscan.job.layout import Bar, Cross, Disc, Ring, Square, Triangle
from regscan.marks.finding.outlines import seek
from regscan.marks.flags import MarkFlag
from regscan.marks.judging.quality import step_flags
from regscan.marks.overlap.edgewise import fit_edges, witness
from regscan.marks.seeing.inks import Palette
from regscan.marks.seeing.inkstep import InkStep
from regscan.marks.seeing.piece import Piece
from regscan.marks.shape.arcs import arcs_of
from regscan.marks.shape.outline import outline_px

PAPER = np.array([0.85, 0.85, 0.9])
CYAN = np.array([0.02, 0.35, 0.7])
BROWN = np.array([0.25, 0.08, 0.04])
INKS = Palette(("cyan", "white"), PAPER, np.array([CYAN, [0.8, 0.8, 0.8]]), (False, True), {})
FINER = 32


def drawn(shape, camera, place, ground, ink, blur_px=1.1, noise=0.005, seed=1):
    """Light of a mark upon a ground (rows x cols x 3) filled by OpenCV at FINER per px."""
    rows, cols, _ = ground.shape
    mask = np.zeros((rows * FINER, cols * FINER), np.uint8)
    # OpenCV's pixel 0 is centred on 0: a place p px is (p + 1/2) * FINER - 1/2 there.
    corners = [
        np.round((((p + place + 0.5) * FINER - 0.5) * 256)[:, ::-1]).astype(np.int32)
        for p in outline_px(shape, camera)
    ]
    cv2.fillPoly(mask, corners, 255, cv2.LINE_8, 8)
    share = cv2.resize(mask, (cols, rows), interpolation=cv2.INTER_AREA)[:, :, None] / 255.0
    light = ground + share * (ink.inside(ground) - ground)
    soft = cv2.GaussianBlur(light, (0, 0), blur_px)
    return soft + noise * np.random.default_rng(seed).standard_normal(light.shape)


def halves(rows, cols):
    """Paper above, a brown block below."""
    ground = np.tile(PAPER, (rows, cols, 1))
    ground[rows // 2 :] = BROWN
    return ground


@pytest.mark.parametrize("count", [0, 1, 29_999, 30_000, 70_001])
def test_a_piece_is_read_at_any_number_of_places(count):
    light = np.random.default_rng(2).random((40, 50, 3)).astype(np.float32)
    rows, cols = np.random.default_rng(3).integers(0, 39, (2, count, 2))
    assert (Piece.of(light, 7, 9).at(rows + 7, cols + 9) == light[rows, cols]).all()


@pytest.mark.parametrize("shape", [Disc(0.6), Ring(0.7, 0.3), Cross(0.7, 0.2), Triangle(0.7)])
def test_arcs_face_out_of_the_ink(shape, camera):
    arcs = arcs_of(shape, camera)
    canvas = np.zeros((200, 200), np.uint8)
    corners = [
        np.round((p + 100.0)[:, ::-1] * 256).astype(np.int32) for p in outline_px(shape, camera)
    ]
    cv2.fillPoly(canvas, corners, 1, cv2.LINE_8, 8)
    for way, wanted in ((2.0, 0), (-2.0, 1)):
        at = np.rint(arcs.points + way * arcs.outward + 100.0).astype(int)
        assert (canvas[at[:, 0], at[:, 1]] == wanted).mean() > 0.97
    assert 0.6 * arcs.length < arcs.lengths.sum() < 1.01 * arcs.length
    assert arcs.lengths[np.unique(arcs.arc)].min() > 0.0


@pytest.mark.parametrize("shape", [Disc(0.6), Square(0.6), Cross(0.7, 0.2)])
@pytest.mark.parametrize("ground", [np.tile(PAPER, (100, 100, 1)), halves(100, 100)])
def test_a_mark_is_placed_whatever_lies_under_it(shape, ground, camera):
    place = np.array([49.31, 50.77])
    ink = InkStep.of(INKS, "cyan")
    piece = Piece.of(drawn(shape, camera, place, ground, ink), 0, 0)
    arcs = arcs_of(shape, camera)
    start = seek(piece, arcs, ink, (45.0, 56.0), 8.0)
    fit = fit_edges(piece, arcs, ink, start, 1.3)
    assert np.hypot(fit.row_px - place[0], fit.col_px - place[1]) < 0.03
    assert fit.support > 0.6
    assert fit.step == pytest.approx(1.0, abs=0.05)


def test_a_place_held_to_a_growth_follows_it_as_far_as_it_says(camera):
    """Of a disc that runs into its own ink above the middle, 1 px larger than designed."""
    place, ink, arcs = np.array([50.2, 50.7]), InkStep.of(INKS, "cyan"), arcs_of(Disc(0.6), camera)
    ground = np.tile(PAPER, (100, 100, 1))
    light = drawn(Disc(0.6 + 2.0 * camera.mm_per_px), camera, place, ground, ink, noise=0.001)
    light[:50] = CYAN
    piece = Piece.of(light, 0, 0)
    fit = fit_edges(piece, arcs, ink, (50.0, 50.0), 1.3, (1.0, 1e-6))
    assert np.hypot(fit.row_px - place[0], fit.col_px - place[1]) < 0.05
    assert fit.growth_px == 1.0
    off = fit_edges(piece, arcs, ink, (50.0, 50.0), 1.3, (0.7, 0.3**2))
    row_sd = off.covariance[0, 0] ** 0.5
    assert off.row_px - fit.row_px > 0.2
    assert off.row_px - fit.row_px == pytest.approx(row_sd, rel=0.25)
    assert off.col_px - fit.col_px == pytest.approx(off.covariance[0, 1] / row_sd, abs=0.02)


def test_the_place_is_that_of_the_piece_in_the_frame(camera):
    ink, arcs = InkStep.of(INKS, "cyan"), arcs_of(Disc(0.6), camera)
    light = drawn(Disc(0.6), camera, np.array([50.0, 50.0]), np.tile(PAPER, (100, 100, 1)), ink)
    here = fit_edges(Piece.of(light, 0, 0), arcs, ink, (51.0, 49.0), 1.3)
    there = fit_edges(Piece.of(light, 300, 500), arcs, ink, (351.0, 549.0), 1.3)
    assert there.row_px == pytest.approx(here.row_px + 300.0, abs=1e-4)
    assert there.col_px == pytest.approx(here.col_px + 500.0, abs=1e-4)


def test_another_ink_of_the_same_shape_is_not_taken_for_it(camera):
    ground, arcs = np.tile(PAPER, (100, 100, 1)), arcs_of(Disc(0.6), camera)
    place = np.array([50.0, 50.0])
    magenta = InkStep(np.array([0.85, 0.05, 0.3]), np.zeros(3))
    piece = Piece.of(drawn(Disc(0.6), camera, place, ground, magenta), 0, 0)
    assert fit_edges(piece, arcs, InkStep.of(INKS, "cyan"), (50.0, 50.0), 1.3) is None
    assert fit_edges(piece, arcs, magenta, (50.0, 50.0), 1.3).support > 0.95


def test_an_outline_is_that_of_the_ink_that_explains_its_step_best(camera):
    """A brown disc on a cyan block is as dark as a green one would be there, or nearly."""
    green, brown = np.array([0.0, 0.212, 0.033]), np.array([0.208, 0.053, 0.017])
    inks = Palette(("green", "brown"), PAPER, np.array([green, brown]), (False, False), {})
    ground, arcs = np.tile([0.003, 0.32, 0.72], (100, 100, 1)), arcs_of(Disc(0.6), camera)
    printed = InkStep.of(inks, "brown")
    piece = Piece.of(drawn(Disc(0.6), camera, np.array([50.0, 50.0]), ground, printed), 0, 0)
    flags = {
        name: step_flags(
            fit_edges(piece, arcs, InkStep.of(inks, name), (50.0, 50.0), 1.3), inks, name
        )
        for name in inks.names
    }
    assert flags == {"green": MarkFlag.INK_UNSURE, "brown": MarkFlag(0)}


def test_ink_that_traps_badly_is_still_that_ink():
    """Published solids: cyan on yellow is printed lighter than the product of both (FOGRA39L)."""
    ink = InkStep.of(INKS, "cyan")
    outside = np.array([0.7, 0.6, 0.05])
    less = outside * (CYAN / PAPER) ** 0.75
    assert ink.shown(less, outside)[0]
    assert not ink.shown(outside * 0.6, outside)[0]  # a shadow: all channels alike
    assert not ink.shown(outside, less)[0]  # the step the wrong way round


def test_an_ink_shows_nothing_on_black_and_an_opaque_one_shows_itself():
    black = np.full(3, 0.01)
    assert not InkStep.of(INKS, "cyan").visible(black)
    white = InkStep.of(INKS, "white")
    assert white.visible(black)
    assert white.shown(np.full(3, 0.78), black)[0]


def test_a_wrong_place_has_no_witness(camera):
    ink, arcs = InkStep.of(INKS, "cyan"), arcs_of(Disc(0.6), camera)
    ground = np.tile(PAPER, (100, 100, 1))
    piece = Piece.of(drawn(Disc(0.6), camera, np.array([50.0, 50.0]), ground, ink), 0, 0)
    right, wrong = (witness(piece, arcs, ink, place, 1.2) for place in ((50.0, 50.0), (56.0, 46.0)))
    assert right.shown == right.clear == right.visible == arcs.count
    assert wrong.shown < 0.3 * wrong.visible


def test_a_piece_too_small_for_the_mark_gives_nothing(camera):
    ink, arcs = InkStep.of(INKS, "cyan"), arcs_of(Disc(0.6), camera)
    piece = Piece.of(np.tile(PAPER, (9, 9, 1)), 0, 0)
    assert fit_edges(piece, arcs, ink, seek(piece, arcs, ink, (4.0, 4.0), 3.0), 1.3) is None


BAR = Bar(1.2, 0.2, 40.0)
ALONG = np.array([np.sin(np.radians(40.0)), -np.cos(np.radians(40.0))])  # rows, cols


def bar_on(ground, camera, seed=1):
    """A cyan bar on some ground, as a piece; its place."""
    place = np.array([70.3, 69.8])
    light = drawn(BAR, camera, place, ground, InkStep.of(INKS, "cyan"), seed=seed)
    return Piece.of(light, 0, 0), place


def across_an_end(ground, place, way, far):
    """Black from a line across one end of the bar on, `far` px from its middle."""
    rows, cols = np.mgrid[: ground.shape[0], : ground.shape[1]]
    beyond = way * ((rows - place[0]) * ALONG[0] + (cols - place[1]) * ALONG[1]) > far
    ground[beyond] = 0.02


@pytest.mark.parametrize("off_px", [-2.6, -1.4, 1.4, 2.6])
def test_a_bar_found_too_far_along_itself_is_drawn_back_by_its_ends(off_px, camera):
    ink, arcs = InkStep.of(INKS, "cyan"), arcs_of(BAR, camera)
    piece, place = bar_on(np.tile(PAPER, (140, 140, 1)), camera)
    fit = fit_edges(piece, arcs, ink, tuple(place + off_px * ALONG), 1.3)
    assert np.hypot(fit.row_px - place[0], fit.col_px - place[1]) < 0.05
    assert fit.told == 1.0


def test_a_bar_whose_ends_are_hidden_lies_anywhere_along_itself(camera):
    ink, arcs = InkStep.of(INKS, "cyan"), arcs_of(BAR, camera)
    piece, place = bar_on(np.tile(PAPER, (140, 140, 1)), camera)
    for way in (-1.0, 1.0):
        across_an_end(piece.light, place, way, 36.0)
    fit = fit_edges(piece, arcs, ink, tuple(place + 1.0 * ALONG), 1.3)
    beside = np.array([ALONG[1], -ALONG[0]])
    error = np.array([fit.row_px, fit.col_px]) - place
    along_sd, beside_sd = (np.sqrt(way @ fit.covariance @ way) for way in (ALONG, beside))
    assert abs(error @ beside) < 0.05 > beside_sd
    assert along_sd > 0.5
    assert fit.told == 0.0


def test_ends_that_contradict_each_other_tell_nothing(camera):
    """A bar printed 2 px too long: no place of it has an edge at both ends."""
    short = arcs_of(Bar(1.2 - 2.0 * camera.mm_per_px, 0.2, 40.0), camera)
    piece, place = bar_on(np.tile(PAPER, (140, 140, 1)), camera)
    ink = InkStep.of(INKS, "cyan")
    right, wrong = (
        fit_edges(piece, arcs, ink, tuple(place + 0.9 * ALONG), 1.3)
        for arcs in (arcs_of(BAR, camera), short)
    )
    assert right.told == 1.0
    assert wrong.told < 0.6
