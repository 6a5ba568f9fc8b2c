"""Everything the history's page shows, as one plain dict: to be tested without a browser."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

import regscan
from regscan.history.charts import LARGE, SMALL, trend_points, trend_still, waste_still
from regscan.history.health import Health
from regscan.history.ranking import DEFERENCE, Look, counts, share_of
from regscan.history.records import MEANS, MEASURES, UNITS, Entry
from regscan.history.start import start_of
from regscan.history.store import History
from regscan.history.trends import FEWEST, SIGNIFICANCE, Trend
from regscan.history.waste import waste_of
from regscan.report.words import count

RUNS_SHOWN = 60
JOBS_SHOWN = 4
_SIGNS = {"in register": "in", "out of tolerance": "out", "cannot be decided": "unknown"}


def history_facts(history: History, health: Health) -> dict[str, Any]:
    """The facts of one press's history; JSON can hold them."""
    entries = health.entries
    months = waste_of(entries)
    large = [reason.trend for look in health.ranking.looks for reason in look.reasons]
    spans = [trend.points for trend in health.trends]
    span_s = (
        min((points[0].when_s for points in spans), default=0.0),
        max((points[-1].when_s for points in spans), default=1.0),
    )
    return {
        "press": health.press,
        "heading": health.heading,
        "sentence": health.sentence,
        "sign": "left" if health.ranking.looks else "in" if health.ranking.questions else "unknown",
        "runs": len(entries),
        "first": entries[0].made_at,
        "last": entries[-1].made_at,
        "questions": health.ranking.questions,
        "significance": SIGNIFICANCE,
        "fewest": FEWEST,
        "notes": list(health.ranking.notes),
        "deference": DEFERENCE,
        "looks": [_look(look, large, span_s) for look in health.ranking.looks],
        "charts": [trend_points(trend) for trend in large],
        "measures": [{"name": m, "unit": UNITS[m], "means": MEANS[m]} for m in MEASURES],
        "wall": _wall(health.trends, span_s),
        "months": [
            {
                "month": month.month,
                "runs": month.runs,
                "unknown": month.unknown,
                "out": month.out,
                "metres": month.metres,
                "outside": month.metres_outside,
                "share": month.share,
            }
            for month in months
        ],
        "waste": waste_still(months),
        "entries": [_entry(entry) for entry in entries[-RUNS_SHOWN:][::-1]],
        "older": max(len(entries) - RUNS_SHOWN, 0),
        "starts": _starts(history, entries),
        "made_at": datetime.now().astimezone().isoformat(timespec="seconds"),
        "version": regscan.__version__,
    }


def _look(look: Look, large: Sequence[Trend], span_s: tuple[float, float]) -> dict[str, Any]:
    return {
        "station": look.station,
        "ink": look.ink,
        "share": look.share,
        "reasons": [
            {
                "sentence": reason.sentence[:1].upper() + reason.sentence[1:],
                "check": reason.check,
                "axis": reason.trend.axis,
                "measure": reason.trend.measure,
                "unit": UNITS[reason.trend.measure],
                "share": reason.share,
                "chart": large.index(reason.trend),
                "still": trend_still(reason.trend, LARGE, span_s),
            }
            for reason in look.reasons
        ],
    }


def _wall(trends: Sequence[Trend], span_s: tuple[float, float]) -> list[dict[str, Any]]:
    """A row per station and axis, a cell per measure; None where no run could show it."""
    found = {(trend.station, trend.axis, trend.measure): trend for trend in trends}
    rows = sorted({(trend.station, trend.axis) for trend in trends})
    inks = {trend.station: trend.ink for trend in trends}
    wall = []
    for station, axis in rows:
        cells = [found.get((station, axis, measure)) for measure in MEASURES]
        wall.append(
            {
                "station": station,
                "ink": inks[station],
                "axis": axis,
                "cells": [_cell(trend, span_s) if trend else None for trend in cells],
            }
        )
    return wall


def _cell(trend: Trend, span_s: tuple[float, float]) -> dict[str, Any]:
    return {
        "state": _state(trend),
        "words": words_of(trend),
        "still": trend_still(trend, SMALL, span_s),
    }


def _state(trend: Trend) -> str:
    if counts(trend):
        return "named"
    return "changed" if trend.significant else "steady"


def words_of(trend: Trend) -> str:
    """What a chart of the wall shows, in words."""
    if trend.slope is None:
        return f"{count(len(trend.points), 'run')}: too few to compare"
    if not trend.significant:
        return "no sure change"
    way = "grew" if trend.growing else "fell"
    small = "" if abs(share_of(trend)) >= 0.05 else ", a trifle"
    return f"{way} to {abs(trend.now):.3f}{small}"


def _entry(entry: Entry) -> dict[str, Any]:
    return {
        "number": entry.number,
        "made_at": entry.made_at,
        "job": entry.job,
        "answer": entry.answer,
        "sign": _SIGNS.get(entry.answer, "unknown"),
        "metres": entry.metres,
        "outside": entry.metres_outside,
        "note": entry.note,
    }


def _starts(history: History, entries: Sequence[Entry]) -> list[dict[str, Any]]:
    """Starting points of the jobs that ran last, newest first."""
    jobs = list(dict.fromkeys(entry.job for entry in reversed(entries)))[:JOBS_SHOWN]
    return [
        {
            "job": job,
            "runs": start.runs,
            "last": start.run.made_at,
            "number": start.run.number,
            "lines": [
                {
                    "station": line.station,
                    "ink": line.ink,
                    "axis": line.axis,
                    "last_mm": line.last_mm,
                    "last_move": line.last_move,
                    "usual_mm": line.usual_mm,
                    "usual_sd_mm": line.usual_sd_mm,
                    "set_ups": line.set_ups,
                    "words": line.words,
                }
                for line in start.lines
            ],
        }
        for job in jobs
        for start in [start_of(history, job, entries[-1].press)]
        if start.lines
    ]
