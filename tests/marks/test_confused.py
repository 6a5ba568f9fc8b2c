"""Marks that may have been taken for each other, and those that may not."""

from dataclasses import replace

import numpy as np
import pytest

from regscan.job.layout import Cross, Diamond, Disc, MarkDesign, Ring, Square
from regscan.marks.confused import alike, merged, told_apart, twins_widened
from regscan.marks.finding.search import Search
from regscan.marks.flags import MarkFlag
from regscan.marks.mark import Mark
from regscan.marks.outlined import told_from
from regscan.marks.printing import Printing
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Look, Sensor, Shot
from tests.marks.conftest import six_colours

DISCS = six_colours((Disc(0.6),) * 6)
WHOLE = Printing(fill=1.0)


def viewed(job, camera, offsets=None, *, mono=False):
    """(view of a drawn frame, its marks as sure as they are true, in the layout's order)."""
    look = Look(sensor=Sensor(noise_grey=2.0, mono=mono))
    frame, truth = draw_frame(job, camera, offsets or {}, look, Shot(480, 640))
    marks = [
        Mark(
            design.ink,
            "",
            "ok",
            row_px=truth.mark(design.ink).row_px,
            col_px=truth.mark(design.ink).col_px,
            row_var=1e-4,
            col_var=1e-4,
            edge_px=1.2,
            printing=WHOLE,
        )
        for design in job.marks
    ]
    return Search(job, camera, job.marks).view(frame.pixels), marks


def doubted(view, camera, marks, job):
    """The inks whose marks were sure, and are not."""
    told = told_apart(view, camera, marks, job.marks)
    found = set()
    for before, after in zip(marks, told, strict=True):
        if before.status == "ok" and after.status != "ok":
            assert MarkFlag.INK_UNSURE in after.flags
            found.add(after.ink)
        else:
            assert after == before
    return found


def lost(mark):
    return replace(mark, status="missing", row_px=np.nan, col_px=np.nan)


@pytest.mark.parametrize("mono", [False, True])
def test_marks_in_their_places_are_told_apart(camera, mono):
    for job in (six_colours(), DISCS):
        view, marks = viewed(job, camera, {"cyan": (0.1, -0.2)}, mono=mono)
        assert not doubted(view, camera, marks, job)


@pytest.mark.parametrize("size_mm", [0.6, 0.8])
def test_a_disc_on_the_edge_of_a_ring_that_lies_elsewhere_is_not_sure(camera, size_mm):
    shapes = (Disc(0.6), Ring(size_mm, 0.3), Cross(0.7, 0.2)) * 2
    job = six_colours(shapes)
    view, marks = viewed(job, camera)
    disc, ring = marks[0], marks[1]
    marks[0] = replace(disc, row_px=ring.row_px + 0.5, col_px=ring.col_px - 0.5)
    # The ring has another edge of its own.
    assert doubted(view, camera, marks, job) == ({disc.ink} if size_mm == 0.6 else set())


def test_marks_designed_on_each_other_may_have_one_edge(camera):
    job = six_colours((Disc(0.6), Ring(0.6, 0.3), Cross(0.7, 0.2)) * 2)
    first = job.marks[0]
    upon = replace(job.marks[1], circumferential_mm=first.circumferential_mm, lateral_mm=0.0)
    job = replace(job, marks=(replace(first, lateral_mm=0.0), upon, *job.marks[2:]))
    view, marks = viewed(job, camera)
    assert not doubted(view, camera, marks, job)


def test_of_like_marks_of_like_inks_both_are_unsure_where_one_is(camera):
    """Brown printed on brown: its twin may be the other as well; cyan's disc may not."""
    base = DISCS
    brown = base.ink("brown")
    inks = tuple(
        replace(ink, colour=brown.colour) if ink.name == "green" else ink for ink in base.inks
    )
    job = replace(base, inks=inks)
    view, marks = viewed(job, camera)
    marks = [
        replace(m, status="doubtful", flags=MarkFlag.INK_UNSURE) if m.ink == "brown" else m
        for m in marks
    ]
    assert doubted(view, camera, marks, job) == {"green"}


def test_in_grey_a_mark_is_not_sure_that_lies_as_near_to_anothers_place(camera):
    view, marks = viewed(DISCS, camera, {"cyan": (0.0, 1.0)}, mono=True)
    assert marks[0].ink == "cyan"
    assert marks[1].ink == "magenta"  # 1.8 mm beside cyan
    assert doubted(view, camera, [marks[0], lost(marks[1]), *marks[2:]], DISCS) == {"cyan"}
    near, marks = viewed(DISCS, camera, {"cyan": (0.0, 0.2)}, mono=True)
    assert not doubted(near, camera, [marks[0], lost(marks[1]), *marks[2:]], DISCS)


def test_in_grey_marks_of_one_shape_at_one_place_are_never_sure(camera):
    pile = tuple(replace(m, circumferential_mm=0.0, lateral_mm=0.0) for m in DISCS.marks[:2])
    job = replace(DISCS, marks=(*pile, *DISCS.marks[2:]))
    view, marks = viewed(job, camera, {"cyan": (0.0, 0.9)}, mono=True)
    assert doubted(view, camera, marks, job) == {"cyan", "magenta"}


def test_a_mark_too_small_for_any_arc_tells_no_ink_from_another(camera):
    job = six_colours((Cross(0.15, 0.05),) * 6)
    view, marks = viewed(job, camera)
    assert told_from(view, camera, job.marks[0], marks[0], ["green"]) == {"green": 0.0}


@pytest.mark.parametrize(
    ("status", "apart_px", "wide"),
    [("doubtful", 10.0, True), ("doubtful", 30.0, False), ("ok", 10.0, False)],
)
def test_a_doubtful_mark_beside_its_like_is_known_no_better_than_an_edge_is_wide(
    status, apart_px, wide, camera
):
    one, other = (Mark(ink, "", "ok", edge_px=1.2) for ink in ("cyan", "magenta"))
    one = replace(one, status=status, row_px=50.0, col_px=50.0, row_var=0.01, col_var=4.0)
    other = replace(other, row_px=50.0, col_px=50.0 + apart_px, row_var=0.01, col_var=0.01)
    gone = replace(other, status="missing", row_px=np.nan, col_px=np.nan)
    least = one.edge_px**2
    for twin, sought in ((other, {}), (gone, {1: (50.0, 50.0 + apart_px)})):
        found = twins_widened([one, twin], DISCS.marks[:2], sought, camera)
        assert found[0].row_var == (least if wide else 0.01)
        assert found[0].col_var == 4.0
        assert found[1] is twin
    assert twins_widened([one, gone], DISCS.marks[:2], {}, camera) == [one, gone]


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        (Ring(0.78, 0.50), Ring(0.74, 0.48), True),  # 1.7 px apart at most
        (Square(0.24), Diamond(0.34, 0.34, 45.0), True),  # a square as well
        (Square(0.26), Diamond(0.25, 0.25, 45.0), False),  # 3.5 px apart
        (Disc(0.46), Square(0.46), False),  # corners
        (Ring(0.78, 0.50), Disc(0.78), False),  # an edge of its own
    ],
)
def test_marks_are_alike_whose_outlines_cannot_be_told_apart(one, other, same, camera):
    """As those of one shape: where two such lie on each other, neither is known."""
    designs = [MarkDesign(ink, shape, 0.0, 0.0) for ink, shape in (("a", one), ("b", other))]
    assert alike(*designs, camera) == alike(*designs[::-1], camera) == same
    marks = [Mark(d.ink, "", "ok", row_px=100.0, col_px=100.0 + k) for k, d in enumerate(designs)]
    assert merged(*zip(marks, designs, strict=True), camera) == same
