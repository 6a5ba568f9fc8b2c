"""One self-contained HTML page of a press's history, in the look of a run's report."""

from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from regscan.history.facts import history_facts
from regscan.history.health import Asked, health_of
from regscan.history.store import History
from regscan.report.page import environment, json_for_script
from regscan.wholefile import write_whole

if TYPE_CHECKING:
    from jinja2 import Environment

HERE = files("regscan.history")
REPORT = files("regscan.report")


def write_page(history: History, asked: Asked, path: Path) -> None:
    """Write the page, whole or not at all. Raises BadHistory, BadOutput."""
    write_whole(path, page(history_facts(history, health_of(history, asked))))


def page(facts: dict[str, Any]) -> str:
    """The page as text. Every name in the facts is escaped: job names are user input."""
    return _environment().get_template("page.html").render(
        f=facts,
        charts_json=json_for_script(facts["charts"]),
        style={
            "charts": _read("report/vendor/uPlot.min.css"),
            "report": _read("report/page.css"),
            "page": _read("page.css"),
        },
        script={"charts": _read("report/vendor/uPlot.iife.min.js"), "page": _read("page.js")},
    )  # fmt: skip


@cache
def _environment() -> "Environment":
    return environment(_read)


def _read(name: str) -> str:
    """A file of this room, or as report/... of the report's."""
    room, _, rest = name.partition("/")
    found = REPORT.joinpath(rest) if room == "report" else HERE.joinpath(name)
    return found.read_text(encoding="utf-8")
