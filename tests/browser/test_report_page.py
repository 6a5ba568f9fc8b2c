"""The report in a real browser: opened, read back, buttons pressed, asked by axe-core."""

from pathlib import Path

import pytest

from regscan.report.facts import report_facts
from regscan.report.page import page as report_page
from tests.report.invented import invented_run


@pytest.fixture(scope="module")
def invented():
    """(run, offsets, marks) of an invented ramp."""
    return invented_run()


@pytest.fixture(scope="module")
def report(invented, tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_text(report_page(report_facts(*invented)), encoding="utf-8")
    return path


@pytest.mark.parametrize("size", ["desk", "laptop", "phone"])
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_it_opens_at_every_size_without_a_serious_finding(
    report, open_page, serious, picture, size, dark
):
    page = open_page(report, size, dark)
    picture(page, f"report-{size}-{'dark' if dark else 'light'}", whole=True)
    assert serious(page) == []
    # Nothing sticks out to the side: a page is scrolled one way only.
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
