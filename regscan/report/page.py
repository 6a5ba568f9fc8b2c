"""One self-contained HTML file from the facts of a run; opens offline, on a phone, in ten years."""

import json
from datetime import datetime
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from regscan.report.still import still
from regscan.report.words import count, plain, signed

if TYPE_CHECKING:
    from jinja2 import Environment

HERE = files("regscan.report")


def page(facts: dict[str, Any]) -> str:
    """The page as text. Every name in the facts is escaped: job names are user input."""
    charts = facts["charts"]
    return _environment().get_template("page.html").render(
        f=facts,
        groups=chart_groups(facts),
        charts_json=json_for_script(charts),
        style={"charts": _read("vendor/uPlot.min.css"), "page": _read("page.css")},
        script={"charts": _read("vendor/uPlot.iife.min.js"), "page": _read("page.js")},
    )  # fmt: skip


def write_report(folder: Path) -> Path:
    """Write report.html of a run's folder, whole or not at all; returns its path.

    Reads run.json, offsets.csv and, where it is there, marks.csv. Raises BadTable
    for a file that cannot be read back and BadOutput when the page cannot be written.
    """
    from regscan.offsets.table import read_marks, read_offsets
    from regscan.report.facts import report_facts
    from regscan.run import load_run
    from regscan.wholefile import write_whole

    marks = folder / "marks.csv"
    facts = report_facts(
        load_run(folder / "run.json"),
        read_offsets(folder / "offsets.csv"),
        read_marks(marks) if marks.exists() else None,
    )
    path = folder / "report.html"
    write_whole(path, page(facts))
    return path


def chart_groups(facts: dict[str, Any]) -> list[dict[str, Any]]:
    """Charts in the order of the page: a station's two axes, as one view saw them, together."""
    stations = {station["number"]: station for station in facts["line"]["stations"]}
    groups: dict[tuple[int, str], dict[str, Any]] = {}
    for index, curve in enumerate(facts["charts"]["curves"]):
        station = stations[curve["station"]]
        group = groups.setdefault(
            (curve["station"], curve["view"]),
            {"station": station, "view": curve["view"], "curves": [], "reasons": []},
        )
        group["reasons"] += [f"{curve['axis']}: {reason}" for reason in curve["reasons"]]
        group["curves"].append(
            {
                "index": index,
                "axis": curve["axis"],
                "still": still(facts["charts"], curve),
                "outside_words": _outside_words(curve),
            }
        )
    return list(groups.values())


def _outside_words(curve: dict[str, Any]) -> str:
    """How often the colour was outside: what the chart shows, in words."""
    if curve["stretches"]:
        return f"{count(len(curve['stretches']), 'stretch', 'stretches')} outside tolerance"
    good = [
        y for y, s in zip(curve["y"], curve["status"], strict=True) if s == "o" and y is not None
    ]
    if not good:
        return "not measured"
    outside = sum(abs(y) > curve["tolerance_mm"] for y in good)
    if outside:
        return f"{count(outside, 'single frame')} outside, no stretch"
    return "inside tolerance throughout"


def json_for_script(value: Any) -> str:
    """JSON that cannot end the script element it stands in."""
    text = json.dumps(value, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


@cache
def _environment() -> "Environment":
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    environment = Environment(
        loader=FunctionLoader(_read),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {
        "signed": signed,
        "plain": plain,
        "count": count,
        "moment": moment,
        "maybe": maybe,
    }
    return environment


def _read(name: str) -> str:
    return HERE.joinpath(name).read_text(encoding="utf-8")


def moment(text: str) -> str:
    """A date and time as people read it; as it was when it is not ISO 8601."""
    try:
        return datetime.fromisoformat(text).strftime("%d %B %Y, %H:%M").lstrip("0")
    except ValueError:
        return text


def maybe(value: float | None, decimals: int) -> str:
    """A number, or a dash where it is not known."""
    return "–" if value is None else plain(value, decimals)
