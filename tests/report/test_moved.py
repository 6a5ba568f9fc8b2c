"""Corrections before and after, to scale and in words."""

from dataclasses import replace

import pytest

from regscan.report.bars import COLUMNS, before_after
from regscan.report.facts import report_facts
from regscan.report.page import page


def row(facts, ink):
    return next(one for one in facts["moved"]["rows"] if one["ink"] == ink)


def test_before_is_where_it_settled_and_after_what_the_move_leaves(facts, invented):
    run = invented[0]
    track = next(t for t in run.drift.tracks if (t.ink, t.axis) == ("magenta", "lateral"))
    wanted = next(c for c in run.corrections if (c.ink, c.axis) == ("magenta", "lateral"))
    one = row(facts, "magenta")["axes"]["lateral"]
    assert one["before_mm"] == pytest.approx(track.settled.mean_mm)
    assert one["after_mm"] == wanted.remaining_mm
    assert one["moves"] is True


def test_what_is_left_alone_stays_where_it_is(facts):
    one = row(facts, "cyan")["axes"]["circumferential"]
    assert one["before_mm"] == one["after_mm"]
    assert one["moves"] is False


def test_what_a_move_leaves_is_told_by_its_side(facts):
    """As every offset is: its size and a word, no sign."""
    for one in facts["moves"]["make"]:
        for move in one["moves"]:
            late_or_drive = ("late", "to drive side")[move["axis"] == "lateral"]
            assert (move["remaining_side"] == late_or_drive) == (move["remaining_mm"] > 0.0005)


def test_what_waits_is_not_drawn_as_if_it_were_moved(invented):
    """A colour still changing gets no move; `remaining` is where it will end, not where it is."""
    run, offsets, marks = invented
    waits = tuple(
        replace(c, words="wait", remaining_mm=0.077) if c.ink == "cyan" else c
        for c in run.corrections
    )
    one = row(report_facts(replace(run, corrections=waits), offsets, marks), "cyan")
    track = next(t for t in run.drift.tracks if (t.ink, t.axis) == ("cyan", "circumferential"))
    assert one["axes"]["circumferential"]["after_mm"] == track.settled.mean_mm


def test_the_drawing_is_to_scale(facts):
    half = facts["moved"]["half_mm"]
    drawn = before_after(facts["moved"]["rows"], half)
    left, right = COLUMNS["lateral"]
    magenta = next(one for one in drawn["rows"] if one["ink"] == "magenta")
    point = magenta["points"][1]
    mm = row(facts, "magenta")["axes"]["lateral"]["before_mm"]
    assert point["before"] == pytest.approx(
        left + (mm + half) / (2 * half) * (right - left), abs=0.06
    )
    assert point["band"][1] - point["band"][0] == pytest.approx(
        0.2 / (2 * half) * (right - left), abs=0.11
    )
    assert point["words"].startswith("3 magenta, lateral: now 0.117 ±0.002 mm to drive side,")
    for one in drawn["rows"]:
        assert "moves" not in one["points"][0]["words"] or one["ink"] == "yellow"


def test_no_moves_no_picture_of_moves(invented):
    run, offsets, marks = invented
    none = tuple(replace(c, move_mm=0.0, steps=0, words="leave") for c in run.corrections)
    html = page(report_facts(replace(run, corrections=none), offsets, marks))
    assert "Before and after the moves" not in html


def test_what_was_not_measured_says_so(invented):
    run, offsets, marks = invented
    unknown = tuple(
        replace(c, move_mm=None, remaining_mm=None) if c.ink == "white" else c
        for c in run.corrections
    )
    html = page(report_facts(replace(run, corrections=unknown), offsets, marks))
    assert "1 white, lateral: not measured" in html
