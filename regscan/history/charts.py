"""Still charts of a history: geometry only, in drawing units, for page.html to draw."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from regscan.history.records import UNITS
from regscan.history.trends import Trend
from regscan.history.waste import Month
from regscan.report.still import Scale, ticks

PEAK = 1.15
"""How much higher than its highest point a chart is."""


@dataclass(frozen=True, slots=True)
class Frame:
    """A chart's size and margins in drawing units."""

    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float


LARGE = Frame(520.0, 190.0, 56.0, 12.0, 12.0, 28.0)
SMALL = Frame(250.0, 96.0, 44.0, 8.0, 8.0, 18.0)
BARS = Frame(1040.0, 200.0, 56.0, 12.0, 12.0, 30.0)


def trend_still(trend: Trend, frame: Frame, span_s: tuple[float, float]) -> dict[str, Any]:
    """Points with their doubt, the line through them where it is sure, and both axes.

    span_s   first and last moment of the axis, the same for every chart of a press.
    """
    along, up = _scales(trend, frame, span_s)
    last = trend.points[-1]
    return {
        "points": [
            {
                "x": along(point.when_s),
                "y": up(point.value or 0.0),
                "reach": _reach(point.value, point.sd, up),
                "found": point.value is not None,
                "same_job": (point.job, point.reference) == (last.job, last.reference),
            }
            for point in trend.points
        ],
        "line": _line(trend, along, up) if trend.significant else None,
        "zero": up(0.0),
        "x_ticks": month_ticks(along, 6 if frame is LARGE else 3),
        "y_ticks": _y_ticks(up, 4 if frame is LARGE else 3),
        "box": _box(frame),
    }


def trend_points(trend: Trend) -> dict[str, Any]:
    """The same numbers for the chart on the screen."""
    last = trend.points[-1]
    return {
        "unit": UNITS[trend.measure],
        "x": [round(point.when_s) for point in trend.points],
        "y": [round(point.value or 0.0, 6) for point in trend.points],
        "sd": [None if point.sd is None else round(point.sd, 6) for point in trend.points],
        "found": [point.value is not None for point in trend.points],
        "run": [point.run for point in trend.points],
        "job": [point.job for point in trend.points],
        "same": [(p.job, p.reference) == (last.job, last.reference) for p in trend.points],
        "line": [trend.was, trend.now] if trend.significant else None,
    }


def _scales(trend: Trend, frame: Frame, span_s: tuple[float, float]) -> tuple[Scale, Scale]:
    values = [0.0, *((p.value or 0.0) + k * (p.sd or 0.0) for p in trend.points for k in (-1, 1))]
    low, high = PEAK * min(values), PEAK * max(values)
    if low == high:
        high = 0.01
    start, end = span_s
    if start == end:
        start, end = start - 1.0, end + 1.0
    along = Scale(start, end, frame.left + 6.0, frame.width - frame.right - 6.0)
    return along, Scale(low, high, frame.height - frame.bottom, frame.top)


def _reach(value: float | None, sd: float | None, up: Scale) -> list[float] | None:
    if value is None or sd is None:
        return None
    return [up(value - sd), up(value + sd)]


def _line(trend: Trend, along: Scale, up: Scale) -> list[float]:
    ends = (along(trend.points[0].when_s), along(trend.points[-1].when_s))
    return [ends[0], up.inside(trend.was), ends[1], up.inside(trend.now)]


def _y_ticks(up: Scale, about: int) -> list[tuple[float, str]]:
    marks = ticks(up.low, up.high, about)
    step = marks[1] - marks[0] if len(marks) > 1 else 0.01
    decimals = 3 if step < 0.0099 else 2
    return [(up(mark), f"{mark:.{decimals}f}".replace("-", "−")) for mark in marks]


def _box(frame: Frame) -> dict[str, float]:
    return {
        "width": frame.width,
        "height": frame.height,
        "left": frame.left,
        "right": frame.width - frame.right,
        "top": frame.top,
        "bottom": frame.height - frame.bottom,
    }


def month_ticks(along: Scale, about: int) -> list[tuple[float, str]]:
    """The first of months, not more than so many of them; days where there is no month."""
    firsts = []
    moment = datetime.fromtimestamp(along.low).replace(day=1, hour=0, minute=0, second=0)
    while moment.timestamp() <= along.high:
        if moment.timestamp() >= along.low:
            firsts.append(moment)
        moment = moment.replace(year=moment.year + moment.month // 12, month=moment.month % 12 + 1)
    if len(firsts) < 2:
        ends = [datetime.fromtimestamp(s) for s in (along.low, along.high)]
        return [(along(end.timestamp()), f"{end:%d %b %y}".lstrip("0")) for end in ends]
    step = -(-len(firsts) // about)
    return [(along(first.timestamp()), f"{first:%b %y}") for first in firsts[::step]]


def waste_still(months: Sequence[Month], frame: Frame = BARS) -> dict[str, Any]:
    """A bar for every month: metres outside tolerance."""
    high = max((month.metres_outside for month in months), default=0.0) * PEAK or 1.0
    up = Scale(0.0, high, frame.height - frame.bottom, frame.top)
    room = (frame.width - frame.left - frame.right) / max(len(months), 1)
    wide = min(0.62 * room, 54.0)
    bars = []
    for place, month in enumerate(months):
        middle = frame.left + (place + 0.5) * room
        top = up(month.metres_outside)
        bars.append(
            {
                "x": round(middle - wide / 2.0, 1),
                "y": top,
                "width": round(wide, 1),
                "height": round(up(0.0) - top, 1),
                "middle": round(middle, 1),
                "month": month.month,
                "metres": month.metres_outside,
                "known": month.runs > month.unknown,
            }
        )
    marks = ticks(0.0, high, 4)
    step = -(-len(months) // 18) or 1
    return {
        "bars": bars,
        "labels": bars[::step],
        "y_ticks": [(up(mark), f"{mark:g}") for mark in marks],
        "box": _box(frame),
    }
