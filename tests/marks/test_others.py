"""What the marks of one frame say of each other."""

from dataclasses import replace

import numpy as np
import pytest

from regscan.job.layout import Disc
from regscan.marks.finder import MarkFinder
from regscan.marks.flags import MarkFlag
from regscan.marks.judging.others import beside_others
from regscan.marks.mark import Mark
from regscan.marks.printing import Printing
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Look, Sensor, Shot
from tests.marks.conftest import LAB, six_colours

DISCS = six_colours((Disc(0.6),) * 6)


UNSEEN = Printing()


def grown(*by_um, printing=UNSEEN):
    """Marks of discs of 0.6 mm, each grown by so many um all round."""
    return [
        Mark(ink, "", "ok", edge_px=1.2, area_ratio=(1.0 + um / 300.0) ** 2, printing=printing)
        for ink, um in zip(LAB, by_um, strict=False)
    ]


@pytest.mark.parametrize(("by_um", "odd"), [(16.0, True), (-14.0, True), (9.0, False)])
def test_a_mark_known_by_its_outline_is_held_against_the_others_growth(by_um, odd):
    marks = beside_others(grown(1.0, 3.0, 2.0 + by_um, 2.0), DISCS.marks[:4])
    assert (marks[2].status == "doubtful") is odd
    assert (MarkFlag.MISSHAPEN in marks[2].flags) is odd
    assert {marks[k].status for k in (0, 1, 3)} == {"ok"}


def test_what_is_of_another_shape_does_not_say_how_far_print_has_grown():
    artwork = replace(grown(90.0)[0], flags=MarkFlag.MISSHAPEN, status="doubtful")
    marks = [artwork, replace(artwork, ink="brown"), *grown(1.0, 2.0, 3.0)]
    designs = [DISCS.marks[k] for k in (0, 5, 0, 1, 2)]
    assert [m.status for m in beside_others(marks, designs)[2:]] == ["ok"] * 3


def test_a_mark_seen_whole_may_grow_by_itself():
    """A station with more impression: not a fault of the measuring."""
    whole = grown(1.0, 3.0, 20.0, 2.0, printing=Printing(fill=1.0))
    assert beside_others(whole, DISCS.marks[:4]) == whole


def test_a_softer_mark_is_told():
    marks = grown(1.0, 1.0, 1.0)
    marks[1] = replace(marks[1], edge_px=9.0)
    flags = [mark.flags for mark in beside_others(marks, DISCS.marks[:3])]
    assert flags == [MarkFlag(0), MarkFlag.SMEARED, MarkFlag(0)]


@pytest.mark.parametrize("seed", range(4))
def test_the_rim_of_a_disc_below_is_not_taken_for_the_edge_of_the_one_above(camera, seed):
    """Green lies all but wholly under black."""
    off = np.random.default_rng(seed).uniform(-0.06, 0.06, 2)
    offsets = {"green": (0.0 + off[0], -1.8 + off[1])}
    look = Look(sensor=Sensor(noise_grey=2.0))
    frame, truth = draw_frame(DISCS, camera, offsets, look, Shot(480, 640, seed=seed))
    for mark in MarkFinder(DISCS, camera).measure(frame):
        true = truth.mark(mark.ink)
        error = np.array([mark.row_px - true.row_px, mark.col_px - true.col_px])
        sd = np.sqrt([mark.row_var, mark.col_var])
        assert mark.status != "ok" or (np.abs(error) < 4.0 * sd).all()


@pytest.mark.parametrize("seed", range(6))
def test_a_rim_of_print_that_nobody_looks_for_leaves_doubt(camera, seed):
    """The same where the job knows of no green: the rim is too narrow to be seen as print."""
    told = replace(DISCS, marks=tuple(m for m in DISCS.marks if m.ink != "green"))
    off = np.random.default_rng(seed).uniform(-0.06, 0.06, 2)
    look = Look(sensor=Sensor(noise_grey=2.0))
    offsets = {"green": (0.0 + off[0], -1.8 + off[1])}
    frame, truth = draw_frame(DISCS, camera, offsets, look, Shot(480, 640, seed=seed))
    for mark in MarkFinder(told, camera).measure(frame):
        true = truth.mark(mark.ink)
        error = np.array([mark.row_px - true.row_px, mark.col_px - true.col_px])
        assert mark.status != "ok" or np.abs(error).max() < 0.1
        assert mark.status == "ok" or mark.ink == "black"
