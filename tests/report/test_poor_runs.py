"""Runs in which much is not known still give a page, and it claims nothing that is not known."""

import re
from dataclasses import replace

import numpy as np
import pytest

from regscan.report.facts import report_facts
from regscan.report.page import chart_groups, page


def changed(run, **changes):
    tracks = tuple(replace(track, **changes) for track in run.drift.tracks)
    return replace(run, drift=replace(run.drift, tracks=tracks))


def test_nothing_measured_at_all(invented):
    run, offsets, marks = invented
    drift = replace(
        run.drift, tracks=(), segments=(), metres_total=None, metres_outside=None, disagreements=()
    )
    verdict = replace(run.verdict, answer="cannot be decided", cases=())
    empty = replace(run, drift=drift, corrections=(), verdict=verdict)
    for table in (offsets, offsets[:0]):
        html = page(report_facts(empty, table, marks[:0]))
        assert "No colour could be measured" in html
        assert 'class="verdict unknown"' in html


def test_no_level_known(invented):
    run, offsets, marks = invented
    nothing = {"settled": None, "levels": (), "excursions": (), "changes": (), "stretches": ()}
    facts = report_facts(changed(run, **nothing), offsets, marks)
    assert {m["state"] for m in facts["pictures"][0]["marks"]} == {"reference", "missing"}
    assert "circumferential not known" in page(facts)


def test_one_axis_only_is_neither_measured_nor_missing(invented):
    run, offsets, _ = invented
    tracks = tuple(replace(t, settled=None) if t.axis == "lateral" else t for t in run.drift.tracks)
    run = replace(run, drift=replace(run.drift, tracks=tracks))
    table = offsets.copy()
    table["lateral_mm"] = table["lateral_sd_mm"] = np.nan
    facts = report_facts(run, table, None)
    assert {m["state"] for m in facts["pictures"][0]["marks"]} == {"reference", "partly"}
    html = page(facts)
    assert "lateral not known" in html
    # What was not measured is never called inside.
    words = [c["outside_words"] for g in chart_groups(facts) for c in g["curves"][1:]]
    assert set(words) == {"not measured", "1 stretch outside tolerance"}
    assert '<path class="lost"' not in html


def test_a_camera_the_job_does_not_know(invented):
    run, offsets, _ = invented
    table = offsets.copy()
    table["camera"] = "elsewhere"
    html = page(report_facts(changed(replace(run, cameras=()), camera="elsewhere"), table, None))
    assert "camera elsewhere" in html


@pytest.mark.parametrize("speed", [np.nan, 0.0])
def test_unknown_and_standing_speed(invented, speed):
    run, offsets, marks = invented
    table = offsets.copy()
    table["speed_m_min"] = speed
    html = page(report_facts(run, table, marks))
    assert ("without speed" in html) is bool(np.isnan(speed))
    body = html.split("<body>")[1].split('<script type="application/json"')[0]
    assert not re.search(r"\bnan\b", body)
