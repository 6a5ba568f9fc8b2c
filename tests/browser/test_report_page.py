"""The report in a real browser: opened, pressed, read back against the run, asked by axe-core.

The run is a simulated table, measured and judged by the command line as anybody's would be.
"""

import json
import re
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

import pytest
from typer.testing import CliRunner

from regscan.cli.app import app
from regscan.offsets.table import read_offsets
from regscan.report.words import offset_words

MM_PER_INCH = 25.4


@dataclass(frozen=True)
class Shown:
    """A run's folder: its page, and what its other files say."""

    folder: Path

    @property
    def page(self):
        return self.folder / "report.html"

    @property
    def run(self):
        return json.loads((self.folder / "run.json").read_text(encoding="utf-8"))

    @property
    def offsets(self):
        return read_offsets(self.folder / "offsets.csv")

    def track(self, ink, axis):
        tracks = self.run["drift"]["tracks"]
        return next(t for t in tracks if (t["ink"], t["axis"]) == (ink, axis))


def command(*words):
    done = CliRunner().invoke(app, [str(word) for word in words])
    assert done.exit_code == 0, done.output


@pytest.fixture(scope="module")
def shown(tmp_path_factory) -> Shown:
    table = tmp_path_factory.mktemp("browser") / "table"
    out = table.with_name("out")
    command("simulate", "--table", "--out", table)
    command("ramp", "--offsets", table / "offsets.csv", "--job", table / "job.toml", "--out", out)
    return Shown(out)


@pytest.fixture(scope="module")
def pictured(drawn, tmp_path_factory) -> Shown:
    """A short run with its marked-up frames in the page."""
    out = tmp_path_factory.mktemp("pictured") / "out"
    command("ramp", drawn, "--out", out)
    return Shown(out)


@pytest.mark.parametrize("size", ["desk", "laptop", "phone"])
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_it_opens_at_every_size_without_a_serious_finding(
    shown, open_page, serious, picture, size, dark
):
    page = open_page(shown.page, size, dark)
    picture(page, f"report-{size}-{'dark' if dark else 'light'}")
    assert serious(page) == []
    # Nothing sticks out to the side: the page is scrolled one way only.
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]


def test_marked_up_frames_are_in_the_page_with_words(pictured, open_page, serious):
    page = open_page(pictured.page, "phone")
    images = page.locator("section.frames img")
    assert images.count() == 2
    for k in range(2):
        assert images.nth(k).evaluate("one => one.complete && one.naturalWidth") >= 960
    assert re.match(
        r"\d{4}\.png, .* m, 150 m/min\. .* tolerance", images.first.get_attribute("alt")
    )
    assert serious(page) == []


def test_it_asks_nothing_of_any_network(shown, open_page, chromium):
    context = chromium.new_context(offline=True)
    page = context.new_page()
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(shown.page.resolve().as_uri())
    assert page.locator(".chart canvas").count() > 0
    context.close()
    assert asked == [shown.page.resolve().as_uri()]


def test_verdict_and_levels_are_those_of_the_run(shown, open_page):
    page, run = open_page(shown.page), shown.run
    assert page.inner_text("h1").lower() == run["verdict"]["answer"]
    shown_words = page.locator("ol.line > li").all_inner_texts()
    for station, words in zip(run["job"]["press"]["stations"], shown_words, strict=True):
        for axis in ("circumferential", "lateral"):
            if station["ink"] != run["job"]["reference"]:
                level = shown.track(station["ink"], axis)["settled"]
                assert offset_words(axis, level["mean_mm"], level["sd_mm"]) in words


def test_what_matters_comes_before_everything_else(shown, open_page):
    page = open_page(shown.page)
    tops = [page.locator(one).bounding_box()["y"] for one in ("h1", ".summary ol", "ol.line")]
    assert tops == sorted(tops)
    sentences = page.locator(".summary ol li").all_inner_texts()
    assert 1 <= len(sentences) <= 3
    assert tops[1] < page.viewport_size["height"]  # on the first screen


def test_inches_and_back(shown, open_page):
    page = open_page(shown.page)
    places = page.locator("[data-mm]:visible")
    before = places.all_text_contents()
    stored = places.evaluate_all("all => all.map(one => Number(one.dataset.mm))")
    page.select_option("#units", "inch")
    for words, mm in zip(places.all_text_contents(), stored, strict=True):
        number = float(words.replace("\N{MINUS SIGN}", "-"))
        assert number == pytest.approx(mm / MM_PER_INCH, abs=6e-5)
    assert not re.search(r"\d mm\b", page.inner_text(".summary"))
    page.select_option("#units", "mm")
    assert places.all_text_contents() == before


def curve_of(page, ink, axis):
    facts = json.loads(page.locator("#facts").text_content())
    places = [k for k, c in enumerate(facts["curves"]) if (c["ink"], c["axis"]) == (ink, axis)]
    return page.locator(f".chart[data-curve='{places[0]}']")


def test_a_chart_is_read_by_keyboard(shown, open_page):
    """Arrow keys step through the frames; what is said is the table's own row."""
    page = open_page(shown.page)
    chart = curve_of(page, "green", "circumferential")
    readout = chart.locator("xpath=..").locator(".readout")
    chart.focus()
    rows = shown.offsets[shown.offsets["ink"] == "green"]
    for row in rows[:3]:
        page.keyboard.press("ArrowRight")
        said = readout.inner_text()
        assert offset_words("circumferential", float(row["circumferential_mm"])) in said
        assert f"{row['web_m']:.1f} m" in said
    page.keyboard.press("ArrowLeft")
    assert f"{rows[1]['web_m']:.1f} m" in readout.inner_text()


def test_a_chart_is_read_by_hovering(shown, open_page):
    page = open_page(shown.page)
    chart = curve_of(page, "green", "circumferential")
    chart.scroll_into_view_if_needed()
    chart.hover()
    assert re.search(r"web at the camera .* m, .* m/min: ", chart.locator("xpath=..").inner_text())


def test_zooming_by_mouse_and_by_keyboard_and_back(shown, open_page):
    page = open_page(shown.page)
    whole = page.locator("#whole-run")
    assert whole.is_disabled()
    chart = curve_of(page, "yellow", "lateral")
    chart.scroll_into_view_if_needed()
    box = chart.locator(".u-over").bounding_box()
    middle = box["y"] + box["height"] / 2
    page.mouse.move(box["x"] + 0.3 * box["width"], middle)
    page.mouse.down()
    page.mouse.move(box["x"] + 0.6 * box["width"], middle, steps=5)
    page.mouse.up()
    assert whole.is_enabled()
    whole.click()
    assert whole.is_disabled()
    chart.focus()
    page.keyboard.press("+")
    assert whole.is_enabled()
    page.keyboard.press("0")
    assert whole.is_disabled()


def test_each_chart_can_have_its_own_scale(shown, open_page):
    page = open_page(shown.page)
    chart = curve_of(page, "yellow", "lateral")
    drawn = "one => one.querySelector('canvas').toDataURL()"
    before = chart.evaluate(drawn)
    page.check("#own-scale")
    assert chart.evaluate(drawn) != before
    page.uncheck("#own-scale")
    assert chart.evaluate(drawn) == before


def test_offset_over_speed_is_read_by_keyboard_and_by_hovering(shown, open_page):
    page = open_page(shown.page)
    place = page.locator(".over-speed .points").first
    readout = place.locator("xpath=..").locator(".readout")
    place.focus()
    page.keyboard.press("ArrowRight")
    assert re.fullmatch(
        r"part \d+, slowing down, about \d+ m/min: .*\(\d+ frames?\)", readout.inner_text()
    )
    page.keyboard.press("End")
    assert readout.inner_text().startswith("hold ")
    page.mouse.move(0, 0)
    slow = place.locator("[data-say^='hold 2 at 50 m/min'] .held").bounding_box()
    page.mouse.move(slow["x"] + slow["width"] / 2, slow["y"] + slow["height"] / 2)
    assert re.match(r"hold \d at 50 m/min: ", readout.inner_text())
    page.select_option("#units", "inch")
    place.focus()
    page.keyboard.press("Home")
    assert "ft/min" in readout.inner_text()


def test_every_cause_of_the_run_is_told_with_evidence(shown, open_page):
    page, drift = open_page(shown.page), shown.run["drift"]
    assert drift["causes"]
    told = page.locator("article.cause")
    assert told.count() == len(drift["causes"])
    for k, cause in enumerate(drift["causes"]):
        words = told.nth(k).inner_text()
        assert cause["sentence"] in words
        assert cause["first_check"] in words
        assert told.nth(k).locator("svg.bars .point").count() >= len(
            shown.run["job"]["press"]["stations"]
        )


def test_light_and_dark_can_be_chosen_against_the_device(shown, open_page):
    page = open_page(shown.page, dark=True)
    ground = "getComputedStyle(document.body).backgroundColor"
    assert page.evaluate(ground) == "rgb(16, 23, 29)"
    page.select_option("#light", "light")
    assert page.evaluate(ground) == "rgb(255, 255, 255)"
    page.select_option("#light", "")
    assert page.evaluate(ground) == "rgb(16, 23, 29)"


def test_the_keyboard_reaches_everything_that_can_be_used(shown, open_page):
    page = open_page(shown.page)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the moves"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "moves"
    wanted = page.locator("select, input, button:enabled, .chart, .points, .scroll").count()
    page.evaluate("document.activeElement.blur(); window.scrollTo(0, 0)")
    reached = page.evaluate(
        """[...document.querySelectorAll('select, input, button:enabled, .chart, .points, .scroll')]
           .filter(one => one.tabIndex >= 0 && one.offsetParent !== null).length"""
    )
    assert reached == wanted


def test_it_prints_without_loss(shown, open_page, tmp_path):
    """In print every live chart gives way to its drawn one, and all words are in the PDF."""
    page = open_page(shown.page)
    charts = page.locator(".chart").count()
    page.emulate_media(media="print")
    assert page.locator(".uplot:visible").count() == 0
    assert page.locator(".chart svg.still:visible").count() == charts
    page.emulate_media(media="screen")
    path = tmp_path / "report.pdf"
    page.pdf(path=path, prefer_css_page_size=True, print_background=True)
    if shutil.which("pdftotext") is None:
        pytest.skip("needs `pdftotext` (Debian package poppler-utils)")
    told = subprocess.run(["pdftotext", str(path), "-"], capture_output=True, check=True).stdout
    printed = " ".join(told.decode().split())
    for heading in page.locator("h1, h2").all_inner_texts():
        assert heading in printed
    for sentence in page.locator(".summary li").all_inner_texts():
        assert sentence in printed
