"""Each station's measures over months: which have changed, by how much, how surely."""

import sqlite3
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from regscan.history.kendall import Group, Slope, holm, slope_of
from regscan.history.records import Measure
from regscan.job.job import Axis

MONTH_S = 365.25 * 86400.0 / 12.0
FEWEST = 6
"""Runs that can be compared, below which no trend is asked for."""
NEWEST = 400
"""Runs of one job, the newest, that are compared with each other: pairs grow as the square."""
SIGNIFICANCE = 0.05


@dataclass(frozen=True, slots=True)
class Point:
    """One measure of one station in one run.

    value   None: looked for and not found; it counts as smaller than any that was found.
    """

    run: int
    when_s: float
    job: str
    reference: str
    ink: str
    value: float | None
    sd: float | None
    tolerance_mm: float


@dataclass(frozen=True, slots=True)
class Trend:
    """One measure of one station over its runs.

    slope      change per month; None where too few runs can be compared.
    adjusted_p after correction for all the questions asked of this press.
    was, now   on the line through the newest job's runs, at the first and the last run.
    """

    station: int
    ink: str
    axis: Axis
    measure: Measure
    points: tuple[Point, ...]
    slope: Slope | None
    adjusted_p: float
    was: float
    now: float
    tolerance_mm: float

    @property
    def significant(self) -> bool:
        """Whether it has changed, at the rate that docs/how/history.md states."""
        return self.adjusted_p < SIGNIFICANCE

    @property
    def growing(self) -> bool:
        """Whether what has changed moves away from zero."""
        return abs(self.now) > abs(self.was)

    @property
    def months(self) -> float:
        """From the first run to the last."""
        return (self.points[-1].when_s - self.points[0].when_s) / MONTH_S


def points_of(
    link: sqlite3.Connection, press: str, since_s: float = -1e18
) -> dict[tuple[int, Axis, Measure], list[Point]]:
    """Every reading of a press by station, axis and measure, in the order of the runs."""
    rows = link.execute(
        "SELECT station, axis, measure, run, made_s, job, reference, ink, value, sd, tolerance_mm"
        " FROM reading JOIN run ON run.number = reading.run"
        " WHERE press = ? AND made_s >= ? ORDER BY made_s, run",
        (press, since_s),
    )
    found: dict[tuple[int, Axis, Measure], list[Point]] = defaultdict(list)
    for station, axis, measure, *rest in rows:
        found[station, axis, measure].append(Point(*rest))
    return found


def trends_of(
    series: dict[tuple[int, Axis, Measure], list[Point]], across_jobs: bool = False
) -> tuple[Trend, ...]:
    """A trend for every series, with probabilities corrected for all of them together.

    across_jobs   compare runs of different jobs too, where jobs seldom come again.
    """
    trends = [_trend(*key, points, across_jobs) for key, points in sorted(series.items()) if points]
    asked = [trend for trend in trends if trend.slope]
    corrected = holm([trend.slope.p for trend in asked if trend.slope])
    adjusted = dict(zip(map(id, asked), corrected, strict=True))
    return tuple(replace(trend, adjusted_p=adjusted.get(id(trend), 1.0)) for trend in trends)


def _trend(
    station: int, axis: Axis, measure: Measure, points: Sequence[Point], across_jobs: bool
) -> Trend:
    groups = _groups(points, across_jobs)
    compared = sum(len(times) for times, _ in groups.values() if len(times) > 1)
    slope = slope_of(list(groups.values())) if compared >= FEWEST else None
    newest = groups[_group(points[-1], across_jobs)]
    was, now = _ends(newest, points, slope.per_time if slope else 0.0)
    last = points[-1]
    return Trend(
        station=station, ink=last.ink, axis=axis, measure=measure, points=tuple(points),
        slope=slope, adjusted_p=1.0, was=was, now=now, tolerance_mm=last.tolerance_mm,
    )  # fmt: skip


def _group(point: Point, across_jobs: bool) -> tuple[str, str]:
    return ("", "") if across_jobs else (point.job, point.reference)


def _groups(points: Iterable[Point], across_jobs: bool) -> dict[tuple[str, str], Group]:
    """Times in months and values, by job and reference; what was not found counts as 0."""
    lists: dict[tuple[str, str], list[tuple[float, float]]] = defaultdict(list)
    for point in points:
        value = 0.0 if point.value is None else point.value
        lists[_group(point, across_jobs)].append((point.when_s / MONTH_S, value))
    groups = {}
    for key, pairs in lists.items():
        array = np.array(pairs[-NEWEST:])
        groups[key] = array[:, 0], array[:, 1]
    return groups


def _ends(group: Group, points: Sequence[Point], per_month: float) -> tuple[float, float]:
    """Where the line through a group lies at the first and at the last run of all."""
    times, values = group
    level = float(np.median(values - per_month * (times - times.mean())))
    first, last = points[0].when_s / MONTH_S, points[-1].when_s / MONTH_S
    at = level + per_month * (np.array([first, last]) - times.mean())
    return float(at[0]), float(at[1])
