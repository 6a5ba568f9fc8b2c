"""First prints on which colour and outlines lead to something else: artwork in the mark's ink, or
another mark. What is told to lie there lies there as nearly as it says, or is missing; and a mark
that may be another's is never sure."""

import math

import pytest

from bench.families.catalogue import FAMILIES
from regscan.marks.finder import MarkFinder
from regscan.marks.flags import MarkFlag
from regscan.simulator.draw import draw_frame

# Which ink was told to be 0.03 to 4 mm off, or where it is not printed at all, at most 2 px unsure.
GUESSED = [
    ("first print", 805, "cyan"),
    ("first print", 810, "magenta"),
    ("first print", 812, "yellow"),
    ("first print", 854, "brown"),
    ("first print, an ink not printed", 799, "yellow"),
    ("first print, an ink not printed", 882, "magenta"),
]


def measured(name, number):
    """Marks by their inks, what is drawn by its ink, and mm per px."""
    case = next(family for family in FAMILIES if family.name == name).case(number)
    scene = case.scene
    frame, truth = draw_frame(scene.job, scene.camera, case.offsets, scene.look, scene.shot)
    marks = MarkFinder(case.told, scene.camera).measure(frame)
    return {m.ink: m for m in marks}, {m.ink: m for m in truth.marks}, scene.camera.mm_per_px


@pytest.mark.parametrize(("name", "number", "ink"), GUESSED)
def test_a_mark_that_is_not_seen_is_missing_not_guessed(name, number, ink):
    marks, printed, _ = measured(name, number)
    mark = marks[ink]
    if mark.status == "missing":
        return
    assert ink in printed, mark
    off = math.hypot(mark.row_px - printed[ink].row_px, mark.col_px - printed[ink].col_px)
    assert off < 5.0 * math.sqrt(mark.row_var + mark.col_var), mark


@pytest.mark.parametrize("number", [749, 769])
def test_of_like_marks_on_artwork_none_is_sure_that_may_be_another(number):
    """Cyan on yellow artwork looks like green: here their discs were taken for each other."""
    marks, printed, mm_per_px = measured("first print, all discs", number)
    for mark in marks.values():
        true = printed[mark.ink]
        off = math.hypot(mark.row_px - true.row_px, mark.col_px - true.col_px)
        assert mark.status != "ok" or off * mm_per_px < 0.05, mark
    assert MarkFlag.INK_UNSURE in marks["cyan"].flags
