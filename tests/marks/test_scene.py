"""How a scene of marks changes: the rates against scenes laid a little to either side."""

from dataclasses import replace

import numpy as np
import pytest

from regscan.camera.camera import Camera
from regscan.job.layout import Cross, Disc
from regscan.marks.overlap.rates import put_rates
from regscan.marks.overlap.scene import Placed, Scene, Window
from regscan.marks.shape.stencil import SAMPLES, stencil

WINDOW, SOFT = Window(10, 20, 90, 100), (1.2, 1.6)
CAMERA = Camera(row_mm_per_px=0.02, col_mm_per_px=0.02)
# Light of every set of four inks, each letting through its own share of each channel.
THROUGH = np.array([[0.1, 0.5, 0.7], [0.8, 0.2, 0.4], [0.9, 0.9, 0.2], [0.1, 0.15, 0.1]])
CASES = {  # (row, col) px of the marks
    "clear of each other": [(30.0, 45.0), (80.0, 100.0)],
    "on each other": [(50.0, 70.0), (53.0, 68.0), (48.0, 74.0), (56.0, 66.0)],
    "cut by the window": [(14.0, 45.0), (60.0, 118.0)],
}


def marks_at(places):
    shapes = [Cross(0.6, 0.15, 10.0), Disc(0.5), Cross(0.5, 0.2, 25.0), Disc(0.4)]
    return [
        Placed.at(bit, stencil(shape, CAMERA, 0.0), place, WINDOW)
        for bit, (shape, place) in enumerate(zip(shapes, places, strict=False))
    ]


def picture(marks, softness, channels):
    scene = Scene(marks, WINDOW, softness)
    return np.tensordot(colours_of(scene, channels).T, scene.shares, 1)


def colours_of(scene, channels):
    light = [
        np.prod([THROUGH[bit] for bit in range(4) if bits >> bit & 1], axis=0, initial=1.0)
        * np.ones(3)
        for bits in scene.sets
    ]
    return np.array(light)[:, :channels]


def rates_of(scene, colours):
    """C x (3M + 2) x rows x cols, at all pixels of the window."""
    pixels = np.arange(WINDOW.rows * WINDOW.cols)
    rates = np.empty((colours.shape[1], 3 * scene.count + 2, pixels.size), np.float32)
    put_rates(rates, scene, colours, pixels)
    return rates.reshape(*rates.shape[:2], WINDOW.rows, WINDOW.cols)


def apart(rates, seen):
    """Share of what is seen that the rates do not tell. Some is left: they take an edge for lying
    in the middle of its pixel. At its border a window does not know what comes in."""
    inner = (slice(None), slice(6, -6), slice(6, -6))
    return np.linalg.norm((rates - seen)[inner]) / np.linalg.norm(seen[inner])


def moved(marks, number, step):
    """The marks, one of them so many samples further."""
    corner = tuple(np.add(marks[number].corner, step).tolist())
    return [replace(m, corner=corner) if k == number else m for k, m in enumerate(marks)]


@pytest.mark.parametrize("channels", [1, 3])
@pytest.mark.parametrize("case", CASES)
def test_rates_are_what_small_changes_show(case, channels):
    marks = marks_at(CASES[case])
    scene = Scene(marks, WINDOW, SOFT)
    rates = rates_of(scene, colours_of(scene, channels))
    for k in range(len(marks)):
        for axis, step in enumerate([(1, 0), (0, 1)]):
            after = picture(moved(marks, k, step), SOFT, channels)
            before = picture(moved(marks, k, np.negative(step)), SOFT, channels)
            seen = (after - before) * SAMPLES / 2.0
            assert apart(rates[:, 2 * k + axis], seen) < 0.06
    for axis, more in enumerate([(0.1, 0.0), (0.0, 0.1)]):  # px^2
        wide, narrow = (np.sqrt(np.square(SOFT) + way * np.array(more)) for way in (1, -1))
        seen = picture(marks, wide, channels) - picture(marks, narrow, channels)
        # Of soft edges, differences over two pixels are a sixth smaller than slopes.
        assert apart(rates[:, -2 + axis], seen / 0.2) < 0.3


def test_a_mark_outside_the_window_changes_nothing():
    marks = marks_at([(50.0, 70.0), (400.0, 400.0)])
    scene = Scene(marks, WINDOW, SOFT)
    assert scene.reaches[1].empty
    assert not rates_of(scene, colours_of(scene, 3))[:, [2, 3, 5]].any()


def test_a_mark_larger_than_the_window_has_no_edge_in_it():
    marks = [Placed.at(0, stencil(Disc(8.0), CAMERA, 0.0), (55.0, 70.0), WINDOW)]
    scene = Scene(marks, WINDOW, SOFT)
    assert scene.sets == [0, 1]
    assert np.abs(scene.shares[1] - 1.0).max() < 1e-6
    assert not rates_of(scene, colours_of(scene, 3)).any()


def test_a_mark_of_which_one_side_lies_in_the_window_goes_on_to_its_border():
    marks = [Placed.at(0, stencil(Disc(8.0), CAMERA, 0.0), (55.0, 270.0), WINDOW)]
    share = Scene(marks, WINDOW, SOFT).shares[1]
    assert np.abs(share[:, 65:] - 1.0).max() < 1e-6
    assert np.abs(share[:, :40]).max() < 1e-6


@pytest.mark.parametrize("case", CASES)
def test_sets_are_drawn_as_far_as_they_reach(case):
    """Every set's share is what it is in a window with room to spare, where no set is cut off."""
    room = 40
    wide = Window(
        WINDOW.row - room, WINDOW.col - room, WINDOW.rows + 2 * room, WINDOW.cols + 2 * room
    )
    marks = marks_at(CASES[case])
    corners = [tuple(c + room * SAMPLES for c in mark.corner) for mark in marks]
    roomy = [replace(mark, corner=c) for mark, c in zip(marks, corners, strict=True)]
    scene, whole = Scene(marks, WINDOW, SOFT), Scene(roomy, wide, SOFT)
    inner = slice(room + 8, -room - 8)  # what comes in at its border a window does not know
    for bits, share in zip(whole.sets, whole.shares, strict=True):
        own = scene.shares[scene.sets.index(bits)] if bits in scene.sets else np.zeros((90, 100))
        assert np.abs(share[inner, inner] - own[8:-8, 8:-8]).max() < 1e-5
