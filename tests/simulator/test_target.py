"""Drawn grids against their own truth: dots by their centroids, corners by symmetry."""

import numpy as np
import pytest

from regscan.camera.camera import Camera
from regscan.camera.lens import LateralColour, Lens
from regscan.simulator.look import Lens as Optics
from regscan.simulator.look import Look, Sensor, Shot
from regscan.simulator.target import Target, draw_target

SIZE = (200, 260)
FINE_COUNTS = Look(lens=Optics(blur_px=1.0), sensor=Sensor(bits=16))
LENS = Lens(
    *SIZE,
    (99.5, 129.5),
    (1.5,),
    red=LateralColour(0.1, 0.0, 0.8),
    blue=LateralColour(0.0, 0.2, -0.6),
)


def camera(lens=None):
    return Camera(0.012, 0.013, "left", "up", 2.0, tone="linear", lens=lens)


def dark_middle(plane, place, reach=17):
    """(row, col) of the darkness within `reach` px of a place."""
    row, col = (round(p) for p in place)
    window = plane[row - reach : row + reach + 1, col - reach : col + reach + 1].astype(float)
    dark = window.max() - window
    rows, cols = np.indices(dark.shape)
    weight = dark.sum()
    return row - reach + (dark * rows).sum() / weight, col - reach + (dark * cols).sum() / weight


@pytest.mark.parametrize("lens", [None, LENS])
def test_every_dot_lies_where_the_truth_says_in_every_channel(lens):
    target = Target(0.5, 5, 6, dot_mm=0.2, turn_deg=7.0, wander_um=3.0)
    frame, truth = draw_target(target, camera(lens), FINE_COUNTS, Shot(*SIZE, seed=3))
    seen = 0
    for channel, places in enumerate(truth.places):
        plane = frame.pixels[..., channel]
        for place in places:
            if (place > 20).all() and (place < np.array(SIZE) - 21).all():
                seen += 1
                # A bent dot's middle is up to 0.004 px beside the picture of its middle.
                assert dark_middle(plane, place) == pytest.approx(tuple(place), abs=0.007)
    assert seen > 30


def test_the_pitch_is_the_pitch():
    """Neighbours along a line are pitch / size apart: 0.5 mm at 12 and 13 um per px."""
    _, truth = draw_target(Target(0.5, 3, 3, dot_mm=0.2), Camera(0.012, 0.013), shot=Shot(60, 60))
    places = dict(zip(map(tuple, truth.nodes), truth.places[1], strict=True))
    assert places[2, 1] - places[1, 1] == pytest.approx((0.5 / 0.012, 0.0), abs=1e-9)
    assert places[1, 2] - places[1, 1] == pytest.approx((0.0, 0.5 / 0.013), abs=1e-9)


def test_a_corner_of_the_board_looks_alike_turned_by_half():
    frame, truth = draw_target(
        Target(0.5, 3, 3, "chessboard", turn_deg=11.0),
        Camera(0.012, 0.012),
        FINE_COUNTS,
        Shot(121, 121),
    )
    assert truth.places[1][4] == pytest.approx((60.0, 60.0))
    plane = frame.pixels[30:91, 30:91, 1].astype(float)
    assert np.abs(plane - plane[::-1, ::-1]).max() < 0.005 * np.ptp(plane)
    # Its four sides: as much light as dark.
    assert plane.mean() == pytest.approx((plane.max() + plane.min()) / 2.0, rel=0.12)


def test_missing_dots_are_bare():
    target = Target(0.5, 4, 4, dot_mm=0.2, missing=0.5)
    frame, truth = draw_target(target, Camera(0.012, 0.012), FINE_COUNTS, Shot(*SIZE, seed=1))
    _, every = draw_target(
        Target(0.5, 4, 4, dot_mm=0.2), Camera(0.012, 0.012), FINE_COUNTS, Shot(*SIZE)
    )
    assert 2 < len(truth.nodes) < 14
    there = {tuple(node) for node in truth.nodes}
    bare = frame.pixels[0, 0, 1]
    for node, (row, col) in zip(every.nodes, every.places[1], strict=True):
        around = frame.pixels[
            round(row) - 18 : round(row) + 19, round(col) - 18 : round(col) + 19, 1
        ]
        assert (tuple(node) in there) == bool(around.min() < bare / 2)
        if tuple(node) not in there:
            assert np.ptp(around.astype(int)) <= 1


def test_same_seed_same_pixels_and_dust_where_it_is_strewn():
    target = Target(0.5, 4, 5, dot_mm=0.2, dust=20)
    one, other = (
        draw_target(target, camera(), FINE_COUNTS, Shot(*SIZE, seed=7))[0] for _ in range(2)
    )
    np.testing.assert_array_equal(one.pixels, other.pixels)
    clean, _ = draw_target(
        Target(0.5, 4, 5, dot_mm=0.2), camera(), FINE_COUNTS, Shot(*SIZE, seed=7)
    )
    assert (one.pixels < clean.pixels * 0.9).any()
    assert (one.pixels <= clean.pixels + 1).all()
