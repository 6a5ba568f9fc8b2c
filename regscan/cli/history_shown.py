"""What regscan history shows: tables for people, or one JSON document."""

import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import typer

from regscan.cli.screen import CAUTION, show_part
from regscan.cli.tables import plain_table
from regscan.history.compare import Difference
from regscan.history.health import Health
from regscan.history.ranking import DEFERENCE
from regscan.history.records import UNITS, Entry, Reading, Setting
from regscan.history.start import Start
from regscan.history.waste import Month


def print_records(name: str, records: Sequence[Any]) -> None:
    """One JSON document; what is not known is null."""
    _print({name: [asdict(record) for record in records]})


def print_health(health: Health) -> None:
    """One JSON document: the ranking, and every trend without its single points."""
    trends = [
        {
            "station": trend.station,
            "ink": trend.ink,
            "axis": trend.axis,
            "measure": trend.measure,
            "unit": UNITS[trend.measure],
            "runs": len(trend.points),
            "per_month": trend.slope.per_time if trend.slope else None,
            "low": trend.slope.low if trend.slope else None,
            "high": trend.slope.high if trend.slope else None,
            "p": trend.slope.p if trend.slope else None,
            "adjusted_p": trend.adjusted_p if trend.slope else None,
            "was": trend.was,
            "now": trend.now,
        }
        for trend in health.trends
    ]
    looks = [
        {
            "station": look.station,
            "ink": look.ink,
            "share_of_tolerance": look.share,
            "reasons": [
                {"words": r.sentence, "check": r.check, "follows": r.follows} for r in look.reasons
            ],
        }
        for look in health.ranking.looks
    ]
    head = {"press": health.press, "heading": health.heading, "sentence": health.sentence}
    notes = {"notes": health.ranking.notes, "caution": DEFERENCE}
    _print({**head, "looks": looks, **notes, "trends": trends})


def _print(document: dict[str, Any]) -> None:
    typer.echo(json.dumps(document, ensure_ascii=False, indent=2))


def show_entries(entries: Sequence[Entry]) -> None:
    """One line per run."""
    table = plain_table("Runs")
    presses = len({entry.press for entry in entries}) > 1
    table.add_column("Run", justify="right")
    for name in ("Measured", "Job", *(["Press"] if presses else []), "Answer"):
        table.add_column(name, overflow="fold", no_wrap=name == "Measured")
    table.add_column("Web m", justify="right")
    table.add_column("Outside m", justify="right")
    for entry in entries:
        table.add_row(
            str(entry.number),
            _when(entry.made_at),
            entry.job,
            *([entry.press] if presses else []),
            entry.answer,
            _length(entry.metres, 0),
            _length(entry.metres_outside, 1),
        )
    notes = [f"Run {entry.number}: {entry.note}" for entry in entries if entry.note]
    show_part(table, notes)


def show_run(entry: Entry, settings: Sequence[Setting], readings: Sequence[Reading]) -> None:
    """What is kept of one run."""
    table = plain_table(f"Run {entry.number}: {entry.job} on {entry.press}")
    for name in ("St", "Ink", "Axis"):
        table.add_column(name, overflow="fold")
    for name in ("Began mm", "Ended mm", "Play", "Speed", "Warm-up", "Noise"):
        table.add_column(name, justify="right")
    told = {(r.ink, r.axis, r.measure): r for r in readings}
    for one in settings:
        measures = [
            _reading(told.get((one.ink, one.axis, measure)))
            for measure in ("play", "speed term", "warm-up", "noise")
        ]
        began, ended = _signed(one.first_mm), _signed(one.last_mm)
        axis = "circumf." if one.axis == "circumferential" else "lateral"
        table.add_row(str(one.station), one.ink, axis, began, ended, *measures)
    show_part(
        table,
        [
            f"{entry.answer}; measured {_when(entry.made_at)}, {entry.frames_used} of"
            f" {entry.frames_found} frames; files in {entry.folder}",
            "Play, warm-up, noise in mm; speed in mm per 100 m/min. - not told by this run,"
            " 0 looked for and too small to be found.",
            *([entry.note] if entry.note else []),
        ],
    )


def show_differences(one: Entry, other: Entry, found: Sequence[Difference]) -> None:
    """Everything known in both runs; what surely differs is marked."""
    table = plain_table(f"Run {one.number} and run {other.number}: second minus first")
    for name in ("St", "Ink", "Axis", "What"):
        table.add_column(name, overflow="fold")
    for name in ("First", "Second", "Change ±sd"):
        table.add_column(name, justify="right", no_wrap=True)
    table.add_column("")
    for d in found:
        axis = "circumf." if d.axis == "circumferential" else "lateral"
        change = "-" if d.change is None else f"{d.change:+.3f} ±" + _length(d.sd, 3, "?")
        numbers = [_signed(d.first), _signed(d.second), change]
        table.add_row(str(d.station), d.ink, axis, d.what, *numbers, "DIFFERS" if d.differs else "")
    lines = [
        f"Run {entry.number}: {entry.job} on {entry.press}, {_when(entry.made_at)}"
        for entry in (one, other)
    ]
    if (one.job, one.reference) != (other.job, other.reference):
        lines.append("They are of different jobs or references, so they may well differ.")
    show_part(table, lines)


def show_health(health: Health) -> None:
    """The ranking with its reasons, and the caution."""
    lines = [health.sentence, *health.ranking.notes]
    for place, look in enumerate(health.ranking.looks, 1):
        lines += ["", f"{place}. Station {look.station}, {look.ink}:"]
        for reason in look.reasons:
            lines += [f"   {reason.sentence}", f"   Where to look: {reason.check}."]
    typer.echo(f"{health.press}: {health.heading}\n")
    show_part(None, [*lines, "", DEFERENCE])


def show_waste(months: Sequence[Month]) -> None:
    """One line per month."""
    table = plain_table("Web outside tolerance")
    table.add_column("Month")
    for name in ("Runs", "Out", "Web m", "Outside m", "Share", "Unknown"):
        table.add_column(name, justify="right")
    for month in months:
        known = month.runs > month.unknown
        share = "-" if month.share is None else f"{100 * month.share:.1f} %"
        table.add_row(
            month.month,
            str(month.runs),
            str(month.out),
            f"{month.metres:.0f}" if known else "-",
            f"{month.metres_outside:.1f}" if known else "-",
            share,
            str(month.unknown or ""),
        )
    show_part(table, ["Unknown: runs without web positions, which are in no sum."])


def show_start(start: Start) -> None:
    """How the job was left, what repeats, and what to move before the first metre."""
    run = start.run
    table = plain_table(f"{run.job} on {run.press}: a starting point")
    for name in ("St", "Ink", "Axis"):
        table.add_column(name, overflow="fold")
    table.add_column("Ended mm", justify="right", no_wrap=True)
    table.add_column("A: move", overflow="fold")
    table.add_column("Begins mm ±sd", justify="right", no_wrap=True)
    table.add_column("B: move", overflow="fold")
    table.add_column("Speed", justify="right", no_wrap=True)
    for line in start.lines:
        usual = "-"
        if line.usual_mm is not None:
            usual = f"{line.usual_mm:+.3f} ±{line.usual_sd_mm:.3f}"
        table.add_row(
            str(line.station),
            line.ink,
            "circumf." if line.axis == "circumferential" else "lateral",
            _signed(line.last_mm),
            line.last_move or "leave",
            usual,
            line.words or "leave",
            _signed(line.per_100_m_min),
        )
    speed = "" if run.speed_m_min is None else f" at {run.speed_m_min:.0f} m/min"
    show_part(
        table,
        [
            f"Last run: {run.number}, {_when(run.made_at)}{speed}; {start.runs} runs in all.",
            "A: from the settings noted at the end of the last run, which ended there, make"
            " move A. B: from the zero marks, where runs begin there (median), make move B"
            " before the first metre. Not both.",
            "Speed: mm per 100 m/min. What is right at set-up speed moves by so much.",
            CAUTION,
        ],
    )


def _when(moment: str) -> str:
    return moment[:16].replace("T", " ")


def _length(value: float | None, decimals: int, unknown: str = "-") -> str:
    return unknown if value is None else f"{value:.{decimals}f}"


def _signed(value: float | None) -> str:
    return "-" if value is None else f"{value:+.3f}"


def _reading(reading: Reading | None) -> str:
    if reading is None:
        return "-"
    return "0" if reading.value is None else f"{reading.value:.3f}"
