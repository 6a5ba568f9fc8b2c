"""First prints on which colour and outlines lead to something else: artwork in the mark's ink, or
another mark. What is told to lie there lies there as nearly as it says, or is missing."""

import math

import pytest

from bench.families.catalogue import FAMILIES
from regscan.marks.finder import MarkFinder
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


@pytest.mark.parametrize(("name", "number", "ink"), GUESSED)
def test_a_mark_that_is_not_seen_is_missing_not_guessed(name, number, ink):
    case = next(family for family in FAMILIES if family.name == name).case(number)
    scene = case.scene
    frame, truth = draw_frame(scene.job, scene.camera, case.offsets, scene.look, scene.shot)
    printed = {mark.ink: mark for mark in truth.marks}
    mark = next(m for m in MarkFinder(case.told, scene.camera).measure(frame) if m.ink == ink)
    if mark.status == "missing":
        return
    assert ink in printed, mark
    off = math.hypot(mark.row_px - printed[ink].row_px, mark.col_px - printed[ink].col_px)
    assert off < 5.0 * math.sqrt(mark.row_var + mark.col_var), mark
