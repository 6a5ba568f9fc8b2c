"""One self-contained HTML file from the facts of a run; opens offline, on a phone, in ten years."""

import json
from collections.abc import Callable
from datetime import datetime
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from regscan.report.bars import bars, before_after
from regscan.report.causes import SIDES
from regscan.report.loops import loop
from regscan.report.still import still
from regscan.report.words import count, plain, signed

if TYPE_CHECKING:
    import numpy as np
    from jinja2 import Environment

    Tables = tuple[np.ndarray, np.ndarray | None]

HERE = files("regscan.report")


def page(facts: dict[str, Any]) -> str:
    """The page as text. Every name in the facts is escaped: job names are user input."""
    charts = facts["charts"]
    return _environment().get_template("page.html").render(
        f=facts,
        groups=chart_groups(facts),
        causes=with_drawings(facts),
        moved=before_after(facts["moved"]["rows"], facts["moved"]["half_mm"]),
        charts_json=json_for_script(charts),
        style={"charts": _read("vendor/uPlot.min.css"), "page": _read("page.css")},
        script={"charts": _read("vendor/uPlot.iife.min.js"), "page": _read("page.js")},
    )  # fmt: skip


def write_report(folder: Path, tables: "Tables | None" = None) -> Path:
    """Write report.html of a run's folder, whole or not at all; returns its path.

    tables   of offsets and of marks as they come back from their files, where somebody has
             them; reading back those of a long run takes much time and memory.

    Reads run.json, offsets.csv and, where they are there, marks.csv and the marked-up
    frames. Raises BadTable for a file that cannot be read back and BadOutput when the
    page cannot be written.
    """
    from regscan.offsets.table import read_marks, read_offsets
    from regscan.report.facts import report_facts
    from regscan.report.frames import frame_facts
    from regscan.run import load_run
    from regscan.wholefile import write_whole

    run, measured = load_run(folder / "run.json"), folder / "marks.csv"
    offsets, marks = tables or (
        read_offsets(folder / "offsets.csv"),
        read_marks(measured) if measured.exists() else None,
    )
    facts = report_facts(run, offsets, marks)
    facts["frames"] = frame_facts(folder, run, offsets, marks)
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
        speed = facts["speeds"][index]
        half_mm = facts["charts"]["range_mm"][curve["axis"]]
        group["curves"].append(
            {
                "index": index,
                "axis": curve["axis"],
                "still": still(facts["charts"], curve),
                "loop": loop(speed, curve, half_mm) if speed else None,
                "outside_words": _outside_words(curve),
            }
        )
    return list(groups.values())


def with_drawings(facts: dict[str, Any]) -> dict[str, Any] | None:
    """The causes, each with the drawings of what it rests on."""
    told = facts["causes"]
    if told is None:
        return None
    return {**told, "causes": [_with_drawings(facts, cause) for cause in told["causes"]]}


def _with_drawings(facts: dict[str, Any], cause: dict[str, Any]) -> dict[str, Any]:
    drawn = [{**one, "drawing": bars(one)} for one in cause["bars"]]
    chart = None if cause["curve"] is None else _evidence(facts, cause)
    return {**cause, "bars": drawn, "chart": chart, "over_speed": bool(chart and chart["speed"])}


def _evidence(facts: dict[str, Any], cause: dict[str, Any]) -> dict[str, Any]:
    """The chart in which the movement shows best: over speed where that can be drawn."""
    charts, number = facts["charts"], cause["curve"]
    curve, speed = charts["curves"][number], facts["speeds"][number]
    over_speed = bool(cause["over_speed"] and speed)
    positive, negative = SIDES[curve["axis"]]
    half_mm = charts["range_mm"][curve["axis"]]
    return {
        "station": curve["station"],
        "ink": curve["ink"],
        "axis": curve["axis"],
        "positive": positive,
        "negative": negative,
        "speed": over_speed,
        "drawing": loop(speed, curve, half_mm) if over_speed else still(charts, curve),
    }


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
    return environment(_read)


def environment(read: Callable[[str], str]) -> "Environment":
    """How templates of pages in this look are filled; read gives a template's text by name."""
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    made = Environment(
        loader=FunctionLoader(read),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters |= {
        "signed": signed,
        "plain": plain,
        "count": count,
        "moment": moment,
        "maybe": maybe,
    }
    return made


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
