"""Causes on the page: what the run says, with the right evidence beside it; silence otherwise."""

from dataclasses import replace

import pytest

from regscan.drift.behaviour import Behaviour, Behaviours, Estimate, Finding, Setting, Term
from regscan.drift.cause import Cause, RunnerUp
from regscan.report.bars import bars
from regscan.report.facts import report_facts
from regscan.report.page import page, with_drawings


def estimate(value):
    return Estimate(value, 0.001, value - 0.002, value + 0.002)


def term(kind, value, moves, **settings):
    places = tuple(Setting(name, estimate(at)) for name, at in settings.items())
    return Term(kind, estimate(value), "mm", places, moves)


def behaviour(station, ink, *terms, channel="circumferential"):
    return Behaviour(station, ink, channel, estimate(0.0), terms, 0.004, 1.0)


SPEED = term("speed", -0.0016, 0.16)
OUT, BACK = term("step", 0.09, 0.09, at_m=100.0), term("step", -0.08, 0.08, at_m=200.0)


def finding(what, station, channel="circumferential"):
    return Finding(channel, what.kind, "one", station, (station,), False, what, 100.0, ())


def cause(title, station, ink, *findings, channel="circumferential"):
    return Cause(
        title.replace(" ", "-"), title, station, ink, (station,), (channel,), "one",
        f"Station {station} ({ink}) moves 0.160 mm.", f"reason of {title}",
        "With the press stopped and isolated: look.", "a longer hold", 0.16, 0.9951,
        RunnerUp("other", "something else", station), findings,
    )  # fmt: skip


@pytest.fixture
def told(invented):
    """The invented run with two causes: cyan with the speed, yellow by two steps."""
    run = invented[0]
    behaviours = Behaviours(
        "", ("",),
        (
            behaviour(1, "white"), behaviour(2, "cyan", SPEED), behaviour(3, "magenta"),
            behaviour(4, "yellow", OUT, BACK),
        ),
        (finding(SPEED, 2), finding(BACK, 4)),
        ("Play cannot be told from inertia: ramps at two rates would decide.",),
    )  # fmt: skip
    causes = (cause("a late drive", 2, "cyan", 0), cause("a slipping plate", 4, "yellow", 1))
    return replace(run, drift=replace(run.drift, behaviours=behaviours, causes=causes))


def test_without_causes_nothing_is_said(html, facts):
    assert facts["causes"] is None
    assert "Why the print moved" not in html


def test_each_cause_comes_with_check_rival_and_what_decides(told, invented):
    html = page(report_facts(told, *invented[1:]))
    for words in (
        "A late drive", "reason of a late drive", "With the press stopped and isolated: look.",
        "something else", "a longer hold", "over 99 %", "Play cannot be told from inertia",
        "in proportion to speed, from slow to fast", "in one step, from before to after",
    ):  # fmt: skip
        assert words in html


def test_likely_causes_are_told_on_top_after_the_moves(told, invented):
    sentences = report_facts(told, *invented[1:])["sentences"]
    (late,) = [k for k, one in enumerate(sentences) if "a late drive" in one]
    (moves,) = [k for k, one in enumerate(sentences) if one.startswith("Proposed moves")]
    assert late > moves
    assert sentences[late] == (
        "Likely cause at station 2 (cyan): a late drive; else something else."
        " First check: With the press stopped and isolated: look."
    )


def test_speed_is_shown_over_speed_and_a_step_along_the_run(told, invented):
    facts = report_facts(told, *invented[1:])
    late, slipping = with_drawings(facts)["causes"]
    assert (late["chart"]["ink"], late["over_speed"]) == ("cyan", True)
    assert late["chart"]["axis"] == "circumferential"
    assert (slipping["chart"]["ink"], slipping["over_speed"]) == ("yellow", False)


def test_bars_show_each_stations_own_term_with_its_sign(told, invented):
    facts = report_facts(told, *invented[1:])
    late, slipping = facts["causes"]["causes"]
    assert [s["mm"] for s in late["bars"][0]["stations"]] == [0, -0.16, 0, 0, 0, 0]
    # Of yellow's two steps the one at the finding's place.
    assert [s["mm"] for s in slipping["bars"][0]["stations"]] == [0, 0, 0, -0.08, 0, 0]
    drawn = bars(late["bars"][0])["bars"]
    assert drawn[1]["words"] == "2 cyan: 0.160 mm early"
    assert drawn[0]["words"] == "1 white: no such movement"
    assert drawn[4]["words"] == "5 black: reference"
    assert drawn[5]["words"] == "6 clear varnish: not seen"
    assert drawn[1]["y"] == pytest.approx(58.0)  # a bar for - hangs below the zero line
    assert drawn[1]["tall"] == pytest.approx(34.0)


def test_skew_has_bars_but_no_curve(told, invented):
    behaviours = told.drift.behaviours
    skew = replace(
        behaviours,
        stations=(behaviour(2, "cyan", SPEED, channel="skew"),),
        findings=(finding(SPEED, 2, "skew"),),
    )
    causes = (cause("a warm frame", 2, "cyan", 0, channel="skew"),)
    run = replace(told, drift=replace(told.drift, behaviours=skew, causes=causes))
    facts = report_facts(run, *invented[1:])
    (one,) = with_drawings(facts)["causes"]
    assert one["chart"] is None
    assert one["bars"][0]["drawing"]["bars"][1]["words"] == "2 cyan: 0.160 mm operator side late"
    assert "A warm frame" in page(facts)


def test_a_run_that_did_not_move_says_so(told, invented):
    calm = replace(
        told,
        drift=replace(
            told.drift, causes=(), behaviours=replace(told.drift.behaviours, findings=())
        ),
    )
    html = page(report_facts(calm, *invented[1:]))
    assert "Nothing moved beyond the run&#39;s own noise." in html or (
        "Nothing moved beyond the run's own noise." in html
    )
