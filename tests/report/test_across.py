"""The page on web edges and round the repeat: shown where there is something, else not at all."""

from dataclasses import replace

import pytest

from regscan.drift.across import EdgeLevel, EdgePair, Figure, RoundPlace, RoundRepeat
from regscan.report.facts import report_facts
from regscan.report.page import page
from tests.report.test_page import read

HEADING = "Web edges, plate and cylinder"


def level(segment, skew_mrad, width_mm):
    return EdgeLevel(
        segment=segment,
        speed_m_min=150.0,
        frames=24,
        md_shift_mm=Figure(0.05, 0.001),
        cd_shift_mm=Figure(-0.02, 0.001),
        skew_mrad=Figure(skew_mrad, 0.004),
        width_mm=Figure(width_mm, 0.001),
        width_strain_ppm=Figure(width_mm / 300.0 * 1e6, 3.0),
        doubtful=False,
    )


def with_edges(invented, *levels):
    run, offsets, marks = invented
    pair = EdgePair(
        2, "cyan", "", "", 300.0, "edge_spacing_mm of the job", True, levels, levels[-1]
    )
    place = RoundPlace(140.0, 60, Figure(0.0, 0.001), Figure(-0.033, 0.001))
    turned = RoundRepeat(
        2, "cyan", "", "both", (replace(place, place_mm=0.0), place), Figure(0.333, 0.01),
        Figure(0.0, 0.01), None, None, False, "plate", "the plate is <turned>.",
    )  # fmt: skip
    drift = replace(run.drift, edges=(pair,), round_repeat=(turned,))
    return report_facts(replace(run, drift=drift), offsets, marks)


def test_a_run_of_one_mark_set_has_no_such_section(facts, html):
    assert facts["across"] == {"edges": [], "spacings": [], "round": []}
    assert HEADING not in html


def test_all_four_numbers_are_on_the_page_with_their_doubt(invented):
    html = page(with_edges(invented, level(5, 0.333, -0.045)))
    text = " ".join(" ".join(read(html).text).split())
    assert HEADING in text
    for number in ("+0.050", "\N{MINUS SIGN}0.020", "+0.333", "\N{MINUS SIGN}0.045",
                   "\N{MINUS SIGN}150", "± 0.004"):  # fmt: skip
        assert number in text
    assert "300.0 mm from mark to mark, taken from edge_spacing_mm of the job" in text
    assert "The plate is <turned>." in text
    assert "&lt;turned&gt;" in html
    assert read(html).crossed == []


@pytest.mark.parametrize(
    ("earlier", "rows"),
    [
        (level(1, 0.333, -0.045), 1),
        (level(1, 0.100, -0.045), 2),  # 0.07 mm of skew more
        (level(1, 0.333, -0.005), 2),  # 0.04 mm of width less
        (level(1, 0.320, -0.044), 1),  # 4 um and 1 um decide nothing
    ],
)
def test_an_earlier_hold_is_shown_where_it_was_another(invented, earlier, rows):
    facts = with_edges(invented, earlier, level(5, 0.333, -0.045))
    assert len(facts["across"]["edges"]) == rows
    assert facts["across"]["edges"][-1]["settled"]
