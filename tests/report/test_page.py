"""The page is one file, complete, and made of escaped names."""

import json
import re
from html.parser import HTMLParser

import pytest

from regscan.report.facts import report_facts
from regscan.report.page import json_for_script, page
from tests.report.invented import invented_run

HEADINGS = (
    "What matters",
    "Moves",
    "The marks as seen",
    "The press, station by station",
    "Along the run",
    "Cut list: web outside tolerance",
    "Levels, hold by hold",
    "The gate, case by case",
    "How well it was measured",
    "Cautions",
    "Signs and words",
    "Where every number comes from",
)
NASTY = 'Honey </script><script>alert(1)</script> & "jar" <img src=x onerror=alert(2)>'
VOID = {"meta", "link", "img", "br", "input", "hr"}


class Reader(HTMLParser):
    """Collects what the tests ask about: elements with their attributes, text, open tags."""

    def __init__(self):
        super().__init__()
        self.elements, self.text, self.open, self.crossed = [], [], [], []

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        if not self.open or self.open[-1] != tag:
            self.crossed.append((tag, self.getpos()))
        else:
            self.open.pop()

    def handle_data(self, data):
        if not self.open or self.open[-1] not in ("script", "style"):
            self.text.append(data)


def read(html):
    reader = Reader()
    reader.feed(html)
    return reader


@pytest.mark.parametrize("heading", HEADINGS)
def test_every_section_is_there(html, heading):
    assert re.search(rf"<h2[^>]*>{re.escape(heading)}</h2>", html)


def test_verdict_is_the_one_first_heading_and_the_title(html, invented):
    answer = invented[0].verdict.answer.capitalize()
    assert re.findall(r"<h1>(.*?)</h1>", html) == [answer]
    assert f"<title>{answer}: " in html


def test_elements_are_closed_in_order(html):
    reader = read(html)
    assert reader.crossed == []
    assert reader.open == []


def test_nothing_is_loaded_from_outside(html):
    loads = [
        (tag, name, value)
        for tag, attributes in read(html).elements
        for name, value in attributes.items()
        if name in ("src", "href", "srcset", "data", "poster", "action") and value
    ]
    assert [load for load in loads if not load[2].startswith("#")] == []
    assert "@import" not in html
    assert re.findall(r"url\((?!#)", html) == []
    assert re.findall(r"\b(?:fetch|XMLHttpRequest|WebSocket|importScripts)\b", html) == []


def test_ids_are_there_once_and_references_lead_somewhere(html):
    elements = read(html).elements
    ids = [a["id"] for _, a in elements if "id" in a]
    assert sorted(ids) == sorted(set(ids))
    wanted = {a["aria-labelledby"] for _, a in elements if "aria-labelledby" in a}
    wanted |= {a["for"] for _, a in elements if "for" in a}
    assert wanted <= set(ids)


def test_pictures_have_words(html):
    for tag, attributes in read(html).elements:
        if tag == "svg" and "aria-hidden" not in attributes and attributes.get("viewbox"):
            named = {"aria-label", "aria-labelledby"} & set(attributes)
            # The small signs of the chart's key stand right before their words.
            assert named or attributes["viewbox"] in ("0 0 28 14", "0 0 14 14")


def test_names_cannot_become_markup():
    run, offsets, marks = invented_run(NASTY)
    facts = report_facts(run, offsets, marks)
    facts["charts"]["curves"][0]["ink"] = NASTY
    reader = read(page(facts))
    assert [a for tag, a in reader.elements if tag == "img"] == []
    assert sum(tag == "script" for tag, _ in reader.elements) == 3
    assert NASTY in "".join(reader.text)


def test_json_in_a_script_element_cannot_end_it():
    text = json_for_script({"name": NASTY})
    assert "<" not in text
    assert json.loads(text) == {"name": NASTY}


def test_every_state_has_a_shape_and_a_word(facts, html):
    for station in facts["line"]["stations"]:
        assert f'class="shape {station["state"]}"' in html
        assert station["word"] in html


def test_numbers_on_the_page_are_those_of_the_run(html, invented):
    stored = {float(v) for v in re.findall(r'data-mm="([^"]+)"', html)}
    for track in invented[0].drift.tracks:
        assert {level.mean_mm for level in track.levels} <= stored
        assert {excursion.worst_mm for excursion in track.excursions} <= stored


def test_levels_table_shows_three_decimals_with_a_sign(html, invented):
    track = next(t for t in invented[0].drift.tracks if t.ink == "magenta" and t.axis == "lateral")
    level = track.levels[0].mean_mm
    assert f'<span data-mm="{level}">+{level:.3f}</span>' in html


def test_stretch_table_reads_back(html, invented):
    stretch = next(s for t in invented[0].drift.tracks if t.ink == "cyan" for s in t.stretches)
    for metres in (stretch.from_m, stretch.to_m, stretch.metres):
        assert f'data-m="{metres}" data-decimals="1">{metres:.1f}</span>' in html


def test_facts_in_the_page_are_the_charts_facts(html, facts):
    text = re.search(r'<script type="application/json" id="facts">(.*?)</script>', html, re.S)[1]
    assert json.loads(text) == json.loads(json.dumps(facts["charts"]))


def test_units_can_be_chosen_and_mm_comes_first(html):
    options = [a["value"] for tag, a in read(html).elements if tag == "option"]
    assert options[:2] == ["mm", "inch"]
    assert options[2:] == ["", "light", "dark"]


def test_works_without_any_clock():
    html = page(report_facts(*invented_run(with_web=False, with_time=False)))
    assert "frame number" in html
    assert "without speed, since none is known" in html


def test_one_still_frame_needs_no_chart(invented):
    run, offsets, marks = invented
    one = offsets[offsets["frame"] == "0001.png"]
    html = page(report_facts(run, one, marks[marks["frame"] == "0001.png"]))
    assert "One frame only" in html
    assert 'class="chart"' not in html


def test_a_chart_library_travels_with_its_licence():
    from regscan.report.page import HERE

    vendor = HERE.joinpath("vendor")
    assert "Permission is hereby granted" in vendor.joinpath("uPlot.LICENSE.txt").read_text()
    version = re.search(r"\(v([\d.]+)\)", vendor.joinpath("uPlot.iife.min.js").read_text())[1]
    assert version in vendor.joinpath("README.md").read_text()
