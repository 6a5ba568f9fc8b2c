"""Cut list, what would have saved web, early warnings, acceptance: as the run has them."""

from dataclasses import replace

import pytest

from regscan.drift.alert import Alert
from regscan.drift.cost import Cost, Cut, Settling, StationCost, WhatIf
from regscan.drift.protocol import ProtocolCheck, ProtocolItem
from regscan.report.costs import SHOWN
from regscan.report.facts import report_facts
from regscan.report.page import page


def cut(from_m, to_m, worst_mm=0.185):
    metres = None if from_m is None else to_m - from_m
    return Cut(
        from_m, to_m, metres, "0037.png", "0084.png", 48, 2, "cyan", "circumferential",
        "", "", worst_mm, (2, 3),
    )  # fmt: skip


def with_cost(invented, cuts, **changes):
    run, offsets, marks = invented
    cost = Cost(
        297.5, 131.4, 120, 48, (StationCost(2, "cyan", 120.0, 48),), cuts, cuts,
        (
            WhatIf("advised moves", "the press does the same again", 17.5, 6),
            WhatIf("slower ramps", "", None, None, "one ramp rate only"),
        ),
        (
            Settling(2, "cyan", "lateral", "", "", 3, 0.0),
            Settling(2, "cyan", "circumferential", "", "", 3, 4.0),
            Settling(2, "cyan", "circumferential", "", "", 5, 23.4),
            Settling(4, "yellow", "lateral", "", "", 3, None, "it had not settled"),
        ),
    )  # fmt: skip
    drift = replace(run.drift, cost=replace(cost, **changes))
    return report_facts(replace(run, drift=drift), offsets, marks)


def test_the_cut_list_reads_back(invented):
    facts = with_cost(invented, (cut(88.75, 210.15),))
    html = page(facts)
    for words in (
        'data-m="88.75" data-decimals="1">88.8', 'data-m="210.15"', "2 cyan, 3 magenta",
        "0.185 mm late", "With the advised moves", 'data-m="17.5"', "one ramp rate only",
    ):  # fmt: skip
        assert words in html


def test_settling_shows_the_longest_way_of_each_colour(invented):
    facts = with_cost(invented, (cut(88.75, 210.15),))
    found = {(s["ink"], s["axis"]): s["metres"] for s in facts["cost"]["settling"]}
    assert found["cyan", "circumferential"] == 23.4
    assert found["yellow", "lateral"] is None
    html = page(facts)
    assert "it had not settled" in html
    assert "All others: settled as soon as the change was over." in html


def test_without_web_positions_frames_are_cut_and_metres_are_not_invented(invented):
    facts = with_cost(
        invented, (cut(None, None),), metres_total=None, metres_outside=None, settling=()
    )
    html = page(facts)
    assert "<b>48 frames</b> of 120 to cut out" in html
    assert "0037.png" in html


def test_a_long_list_is_cut_short_and_says_so(invented):
    cuts = tuple(cut(10.0 * k, 10.0 * k + 5) for k in range(SHOWN + 7))
    assert "And 7 more, all in cuts.csv." in page(with_cost(invented, cuts))


@pytest.mark.parametrize("metres", [516.2, None])
def test_what_the_monitor_would_have_said_is_told_in_order(invented, metres):
    run, offsets, marks = invented
    said = Alert(
        "ewma", 2, "cyan", "lateral", "", "", "0093.png", 60.0, metres, 50.0, "steady",
        0.03, 0.017, None, None, "Station 2 cyan, lateral: has moved",
    )  # fmt: skip
    drift = replace(run.drift, alerts=(said,) * (SHOWN + 1))
    html = page(report_facts(replace(run, drift=drift), offsets, marks))
    assert html.count("Station 2 cyan, lateral: has moved") == SHOWN
    assert "And 1 more, all in run.json." in html
    assert ("516" if metres else "0093.png") in html


@pytest.mark.parametrize(("missing", "words"), [("", "complete"), ("hold longer", "not complete")])
def test_an_acceptance_run_says_what_is_missing(invented, missing, words):
    run, offsets, marks = invented
    check = ProtocolCheck("house rule", (ProtocolItem("holds", "180 s", "60 s", missing),))
    drift = replace(run.drift, acceptance=check)
    html = page(report_facts(replace(run, drift=drift), offsets, marks))
    assert f"Acceptance run: {words}</h2>" in html
    assert (missing or "kept") in html


def test_nothing_is_said_where_the_run_has_none_of_it(html):
    for words in ("What the monitor would have said", "Acceptance run", "to cut out"):
        assert words not in html
