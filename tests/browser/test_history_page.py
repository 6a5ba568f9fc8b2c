"""The page of a history in a real browser: opened, read by keyboard, asked by axe-core."""

import re
from pathlib import Path

import pytest

from regscan.history.health import Asked
from regscan.history.page import write_page
from regscan.history.store import open_history
from tests.history.test_ranking import PLAY_OF_3, weekly


@pytest.fixture(scope="module")
def history_page(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("history")
    grown = {PLAY_OF_3: 0.03 / 26, (1, "lateral", "noise"): 0.006 / 26}
    with open_history(folder / "h", create=True) as history:
        for run in weekly(1, 26, grown, jobs=2):
            history.add(run)
        write_page(history, Asked(), folder / "history.html")
    return folder / "history.html"


@pytest.mark.parametrize(
    ("size", "dark"), [("desk", False), ("laptop", True), ("phone", False)], ids=str
)
def test_it_opens_without_a_serious_finding(history_page, open_page, serious, picture, size, dark):
    page = open_page(history_page, size, dark)
    picture(page, f"history-{size}-{'dark' if dark else 'light'}", whole=True)
    assert page.locator("h1").inner_text() == "Look at station 3 (magenta) first"
    assert serious(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]


def test_a_trend_is_drawn_and_read_by_keyboard(history_page, open_page):
    page = open_page(history_page)
    chart = page.locator("[data-chart='0']")
    assert chart.locator("canvas").count() == 1
    chart.focus()
    page.keyboard.press("ArrowLeft")
    told = page.locator(".trend-figure .readout").first.inner_text()
    assert re.fullmatch(r"run 25, \d+ \w+ 2026, Job 0: 0\.0\d\d mm", told)


def test_print_shows_the_still_pictures(history_page, open_page):
    page = open_page(history_page)
    assert not page.locator("svg.trend.large").first.is_visible()
    page.emulate_media(media="print")
    assert page.locator("svg.trend.large").first.is_visible()
    assert not page.locator("[data-chart='0']").is_visible()
