"""Which station to look at first, and why: the trends that count, put in order.

regscan ranks; it does not find faults. What is to be done is for trained people, by the
machine maker's instructions and local rules.
"""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from regscan.history.records import UNITS, Measure
from regscan.history.trends import Trend

SMALLEST_SHARE = 0.05
"""A change of less than this share of the tolerance is listed, but names no station."""
IN_PRINT: dict[Measure, float] = {"play": 1.0, "speed term": 1.0, "warm-up": 1.0, "noise": 2.0}
"""mm of print that a unit of each measure is worth: noise counts twice, as 95 % of the frames
lie within two of it; a speed term counts at 100 m/min."""
ALIKE = 2.0
"""Stations change alike when their slopes differ by less than this factor."""

# Where to look, common practice and no source: from the trade's own table of causes.
CHECKS: dict[Measure, str] = {
    "play": "gear mesh and its wear, seating and locking of the plate cylinder",
    "speed term": "timing of the drives (a task for maintenance), grip and cleanness of the"
    " rollers before the station",
    "warm-up": "cooling water (flow, temperature, filter), lamp power following the speed",
    "noise": "lens and light of the camera first; then bearing play, impression setting,"
    " plate and tape edges",
}
DEFERENCE = (
    "This ranking says where something has changed, not what is broken. Stop, isolate, then"
    " check: the machine maker's instructions, local rules and trained people come first."
)


@dataclass(frozen=True, slots=True)
class Reason:
    """One trend that names a station, in words.

    share    of the tolerance by which the print has come to move more.
    follows  the earlier station that it changes alike with; None for its own change.
    """

    trend: Trend
    share: float
    sentence: str
    check: str
    follows: int | None = None


@dataclass(frozen=True, slots=True)
class Look:
    """A station to look at; the first of a ranking is the one to begin with."""

    station: int
    ink: str
    share: float
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class Ranking:
    """Stations in the order to look at them, and what is to be said of all together.

    notes   such as that all stations changed alike, so that the reference is to be asked first.
    """

    looks: tuple[Look, ...]
    notes: tuple[str, ...]
    questions: int


def rank(trends: Sequence[Trend], reference: str) -> Ranking:
    """Order stations by how much of the tolerance their growth takes; largest first."""
    named = [trend for trend in trends if counts(trend)]
    notes = _of_all(named, trends, reference)
    followed = _followers(named, trends)
    by_station: dict[tuple[int, str], list[Reason]] = defaultdict(list)
    for trend in named:
        by_station[trend.station, trend.ink].append(_reason(trend, followed.get(id(trend))))
    looks = [
        Look(*key, _own_share(reasons), tuple(sorted(reasons, key=lambda r: -r.share)))
        for key, reasons in by_station.items()
    ]
    looks.sort(key=lambda look: (-look.share, look.station))
    return Ranking(tuple(looks), notes, sum(trend.slope is not None for trend in trends))


def counts(trend: Trend) -> bool:
    """Whether a trend names its station: surely changed, for the worse, and not by a trifle."""
    return trend.significant and trend.growing and share_of(trend) >= SMALLEST_SHARE


def share_of(trend: Trend) -> float:
    """By how much of the tolerance the print has come to move more since the first run."""
    grown = abs(trend.now) - abs(trend.was)
    return IN_PRINT[trend.measure] * grown / trend.tolerance_mm


def _own_share(reasons: Sequence[Reason]) -> float:
    return max((reason.share for reason in reasons if reason.follows is None), default=0.0)


def _reason(trend: Trend, follows: int | None) -> Reason:
    check = CHECKS[trend.measure]
    if follows is not None:
        check = f"station {follows} first, since this one changes alike with it"
    return Reason(trend, share_of(trend), sentence_of(trend), check, follows)


def sentence_of(trend: Trend) -> str:
    """What has changed, from where to where, how fast, how surely."""
    assert trend.slope is not None
    unit, slope = UNITS[trend.measure], trend.slope
    away = math.copysign(1.0, trend.now)  # what grows away from zero grows, late or early
    low, high = sorted((away * slope.low, away * slope.high))
    sure = "p < 0.001" if trend.adjusted_p < 0.001 else f"p = {trend.adjusted_p:.3f}"
    return (
        f"{trend.axis} {trend.measure} grew from {abs(trend.was):.3f} to {abs(trend.now):.3f}"
        f" {unit} over {trend.months:.1f} months and {len(trend.points)} runs"
        f" ({away * slope.per_time:.4f} a month, between {low:.4f} and {high:.4f}; {sure})"
    )


def _alike(one: Trend, other: Trend) -> bool:
    if one.slope is None or other.slope is None or not other.slope.per_time:
        return False
    return 1.0 / ALIKE <= one.slope.per_time / other.slope.per_time <= ALIKE


def _same(trends: Sequence[Trend]) -> dict[tuple[str, Measure], list[Trend]]:
    groups: dict[tuple[str, Measure], list[Trend]] = defaultdict(list)
    for trend in trends:
        groups[trend.axis, trend.measure].append(trend)
    return {key: sorted(group, key=lambda t: t.station) for key, group in groups.items()}


def _of_all(named: Sequence[Trend], trends: Sequence[Trend], reference: str) -> tuple[str, ...]:
    """Where all stations change alike, what they have in common is to be asked first."""
    asked = _same([trend for trend in trends if trend.slope])
    notes = []
    for (axis, measure), group in _same(named).items():
        if len(group) >= 3 and len(group) == len(asked[axis, measure]):
            if not all(_alike(trend, group[0]) for trend in group):
                continue
            notes.append(
                f"The {axis} {measure} of all {len(group)} stations changed alike. Look first at"
                f" what they share: the reference ({reference}), or the camera and its light."
            )
    return tuple(notes)


def _followers(named: Sequence[Trend], trends: Sequence[Trend]) -> dict[int, int]:
    """By identity of a trend, the station it follows: a stair from that station to the last.

    What changes where a drum grips the web moves every colour printed after it as well.
    """
    asked = _same([trend for trend in trends if trend.slope])
    followed: dict[int, int] = {}
    for (axis, measure), group in _same(named).items():
        after = [t for t in asked[axis, measure] if t.station >= group[0].station]
        if measure == "noise" or len(group) < 2 or len(group) == len(asked[axis, measure]):
            continue
        if after == group and all(_alike(trend, group[0]) for trend in group):
            followed |= {id(trend): group[0].station for trend in group[1:]}
    return followed
