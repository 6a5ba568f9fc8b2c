"""Ink identity on published solids and overprints, which obey no simple law of ink on ink.

Two things are called overprint here. Overprint *colours* stand as inks of their own (what a
press would print as red, green, blue and a grey of three inks beside a true black), on
separated marks. Overprinted *marks* lie on each other, each on its own plate.
"""

from dataclasses import replace

import numpy as np
import pytest

from outside import ghostscript
from outside.camera import Optics
from outside.colours import PROCESS, read_solids
from outside.jobs import process_labs
from outside.needs import ghostscript_drawn
from outside.page import Printed
from outside.scenes import grid_designs, print_scene, take
from regscan.job.layout import Disc, MarkDesign, Ring, Square
from regscan.marks.finder import MarkFinder

SOLIDS = read_solids()
MIXED = {
    "red": frozenset({"magenta", "yellow"}),
    "green": frozenset({"cyan", "yellow"}),
    "blue": frozenset({"cyan", "magenta"}),
    "grey": frozenset({"cyan", "magenta", "yellow"}),
}
LABS = process_labs(SOLIDS) | {name: SOLIDS[inks].lab for name, inks in MIXED.items()}
LIGHT = {inks: solid.light for inks, solid in SOLIDS.items()} | {
    frozenset({name}): SOLIDS[inks].light for name, inks in MIXED.items()
}
ALL = (*PROCESS, *MIXED)
LIMIT_PX = 0.005
NOISY = Optics(noise=3.0)


def found(scene, optics, seed=3):
    """{ink: (Mark, row error px, col error px)}; errors are NaN for an ink not on the page."""
    inks = [d.ink for d in scene.designs]
    labs = {name: LABS[name] for name in ("paper", *inks)}
    taken = take(scene, ghostscript.draw(scene.page), LIGHT, labs, optics, seed)
    printed = {p.ink for p in scene.page.printed}
    table = {}
    for mark in MarkFinder(taken.job, taken.camera).measure(taken.frame):
        row, col = scene.truth(mark.ink) if mark.ink in printed else (np.nan, np.nan)
        table[mark.ink] = (mark, mark.row_px - row, mark.col_px - col)
    return table


def pulls(entry):
    mark, row, col = entry
    return abs(row) / np.sqrt(mark.row_var), abs(col) / np.sqrt(mark.col_var)


def discs(inks):
    """The same disc for every ink: only colour and place tell them apart."""
    return grid_designs(dict.fromkeys(inks, Disc(0.6)), pitch_mm=1.5, across=3)


@ghostscript_drawn
@pytest.mark.parametrize("seed", range(2))
def test_solids_and_overprint_colours_are_measured(seed):
    table = found(print_scene(discs(ALL), seed), Optics())
    assert {ink: m.status for ink, (m, *_) in table.items()} == dict.fromkeys(ALL, "ok")
    errors = {ink: (row, col) for ink, (_, row, col) in table.items()}
    assert max(np.abs(e).max() for e in errors.values()) < LIMIT_PX, errors


@ghostscript_drawn
@pytest.mark.parametrize("seed", range(3))
def test_marks_that_changed_places_are_told_by_their_colour(seed):
    """Seven inks dealt out over the seven places: nobody may answer for a neighbour."""
    inks = tuple(ink for ink in ALL if ink != "grey")
    scene = print_scene(discs(inks), seed)
    dealt = np.random.default_rng(seed).permutation(len(inks))
    marks = scene.page.printed
    swapped = tuple(
        replace(mark, down_mm=marks[k].down_mm, right_mm=marks[k].right_mm)
        for mark, k in zip(marks, dealt, strict=True)
    )
    table = found(replace(scene, page=replace(scene.page, printed=swapped)), NOISY)
    assert {ink: m.status for ink, (m, *_) in table.items()} == dict.fromkeys(inks, "ok")
    assert max(max(pulls(entry)) for entry in table.values()) < 5.0


@ghostscript_drawn
@pytest.mark.parametrize(
    ("absent", "stranger"),
    [
        # An ink, and what it makes with one or two others. Not grey for black: their L* of
        # 23 and 16 are within what a black's own density may vary.
        ("cyan", "blue"),
        ("cyan", "green"),
        ("cyan", "grey"),
        ("magenta", "red"),
        ("magenta", "blue"),
        ("yellow", "red"),
        ("yellow", "green"),
    ],
)
def test_a_stranger_in_an_ink_s_place_is_not_taken_for_it(absent, stranger):
    """One process ink did not print; an overprint of the same shape lies where it should.

    A confident answer would be a wrong one. The others stay as they are; only black may be
    called doubtful beside a grey of L* 23.
    """
    scene = print_scene(discs(PROCESS), 3)
    printed = tuple(
        replace(mark, ink=stranger) if mark.ink == absent else mark for mark in scene.page.printed
    )
    table = found(replace(scene, page=replace(scene.page, printed=printed)), NOISY)
    assert table.pop(absent)[0].status != "ok"
    assert max(max(pulls(entry)) for entry in table.values()) < 5.0
    sure = [ink for ink in table if (ink, stranger) != ("black", "grey")]
    assert [table[ink][0].status for ink in sure] == ["ok"] * len(sure)


@ghostscript_drawn
@pytest.mark.parametrize("apart_mm", [0.0, 0.2, 0.4, 0.6, 0.7])
def test_marks_on_each_other_are_right_or_not_called_ok(apart_mm):
    """Cyan on yellow, black over magenta, more and less covered; at 0.8 mm all lie free."""
    designs = [
        MarkDesign("yellow", Disc(1.0), 0.0, 0.0),
        MarkDesign("cyan", Disc(0.5), 0.0, apart_mm),
        MarkDesign("magenta", Square(0.6, 7.0), 1.8, 0.0),
        MarkDesign("black", Ring(0.9, 0.5), 1.8, apart_mm),
    ]
    table = found(print_scene(designs, 6, astray_mm=0.05), NOISY)
    wrong = {
        ink: entry
        for ink, entry in table.items()
        if entry[0].status == "ok" and max(pulls(entry)) > 5.0
    }
    assert wrong == {}


@ghostscript_drawn
def test_an_overprint_elsewhere_does_not_disturb_free_marks():
    """Artwork of two inks on each other beside the marks: the marks stay within the limit."""
    scene = print_scene(discs(PROCESS), 8)
    corner = max(p.down_mm for p in scene.page.printed), max(p.right_mm for p in scene.page.printed)
    artwork = [
        Printed(ink, Square(0.9, 20.0), corner[0] + 1.4, corner[1] - shift)
        for ink, shift in (("cyan", 1.0), ("yellow", 0.6))
    ]
    page = replace(
        scene.page,
        height_mm=scene.page.height_mm + 1.6,
        printed=(*scene.page.printed, *artwork),
    )
    truth = {d.ink: scene.truth(d.ink) for d in scene.designs}
    labs = {name: LABS[name] for name in ("paper", *PROCESS)}
    taken = take(replace(scene, page=page), ghostscript.draw(page), LIGHT, labs, Optics())
    for mark in MarkFinder(taken.job, taken.camera).measure(taken.frame):
        assert mark.status == "ok", mark
        assert (mark.row_px, mark.col_px) == pytest.approx(truth[mark.ink], abs=LIMIT_PX), mark
