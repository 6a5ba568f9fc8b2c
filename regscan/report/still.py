"""Still charts for print and for browsers without scripts: geometry only, in drawing units.

The charts on the screen are drawn by page.js from the same numbers.
"""

import math
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import Any

WIDTH, HEIGHT = 520.0, 168.0
LEFT, RIGHT, TOP, BOTTOM = 52.0, 40.0, 10.0, 26.0
# How much taller than the speed a chart is: the speed lies behind, and low.
SPEED_SHARE = 2.6
Points = list[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Scale:
    """Straight line from values to drawing units."""

    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        """Where a value lies, in drawing units."""
        span = self.high - self.low
        share = (value - self.low) / span if span else 0.5
        return round(self.start + share * (self.end - self.start), 1)

    def inside(self, value: float) -> float:
        """The place of a value, or of the nearer end of the scale for one beyond it."""
        return self(min(max(value, self.low), self.high))


def ticks(low: float, high: float, about: int) -> list[float]:
    """Round values from low to high, about so many of them."""
    if not high > low:
        return [low]
    raw = (high - low) / about
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(power * k for k in (1, 2, 5, 10) if power * k >= raw * 0.999)
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [round(k * step, 9) + 0.0 for k in range(first, last + 1)]


def along_scale(charts: dict[str, Any]) -> Scale:
    """The shared axis of all charts of a run."""
    places = [x for curve in charts["curves"] for x in curve["x"]]
    low, high = min(places, default=0.0), max(places, default=1.0)
    if low == high:
        low, high = low - 1.0, high + 1.0
    return Scale(low, high, LEFT, WIDTH - RIGHT)


def speed_scale(charts: dict[str, Any]) -> Scale | None:
    """The lower part of the chart, from standing up; None where no speed is known."""
    speeds = [v for v in charts["speed"]["v"] if v is not None]
    return Scale(0.0, SPEED_SHARE * max(speeds) or 1.0, HEIGHT - BOTTOM, TOP) if speeds else None


def still(charts: dict[str, Any], curve: dict[str, Any]) -> dict[str, Any]:
    """One chart: its curve, band, stretches, levels, speed and ticks."""
    half = charts["range_mm"][curve["axis"]]
    along, up = along_scale(charts), Scale(-half, half, HEIGHT - BOTTOM, TOP)
    limit = curve["tolerance_mm"]
    points = list(zip(curve["x"], curve["y"], curve["status"], strict=True))
    return {
        "lines": [_line(part, along, up) for part in _unbroken(points)],
        "outside": [
            (along(x), up.inside(y))
            for x, y, s in points
            if s == "o" and y is not None and abs(y) > limit
        ],
        "doubtful": [(along(x), up.inside(y)) for x, y, s in points if s == "d" and y is not None],
        "missing": [along(x) for x, y, s in points if y is None],
        "band": [up(limit), up(-limit)],
        "levels": [
            [along(level["from"]), along(level["to"]), up.inside(level["mean_mm"])]
            for level in curve["levels"]
            if level["from"] is not None
        ],
        "stretches": [
            [along(s["from"]), max(along(s["to"]), along(s["from"]) + 1.5)]
            for s in curve["stretches"]
            if s["from"] is not None and s["to"] is not None
        ],
        "bounds": bounds(charts, along),
        "speed": speed_area(charts, along),
        **_axes(charts, along, up),
    }


def _axes(charts: dict[str, Any], along: Scale, up: Scale) -> dict[str, Any]:
    fast = speed_scale(charts)
    marks = ticks(up.low, up.high, 5)
    decimals = 3 if len(marks) > 1 and marks[1] - marks[0] < 0.0099 else 2
    return {
        "x_ticks": [[along(x), f"{x:g}"] for x in ticks(along.low, along.high, 6)],
        "y_ticks": [[up(y), y, decimals] for y in marks],
        "v_ticks": [[fast(v), f"{v:g}"] for v in ticks(0.0, fast.high / SPEED_SHARE, 2)]
        if fast
        else [],
    }


def _unbroken(points: list[tuple[float, float | None, str]]) -> list[list[tuple[float, float]]]:
    """Runs of good points; a missing one breaks the line, a doubtful one is passed by."""
    wanted = [point for point in points if point[2] != "d"]
    runs = groupby(wanted, key=lambda point: point[1] is not None)
    return [[(x, y) for x, y, _ in run if y is not None] for known, run in runs if known]


def _line(points: Points, along: Scale, up: Scale) -> str:
    if len(points) == 1:  # a line of one point shows nothing: give it a little length
        points = [points[0], points[0]]
    return " ".join(f"{along(x):g},{up.inside(y):g}" for x, y in points)


def bounds(charts: dict[str, Any], along: Scale) -> list[float]:
    """Where one segment of the run ends and the next begins."""
    pairs = pairwise(charts["segments"])
    return [along(b["from"]) for _, b in pairs if b["from"] is not None]


def speed_area(charts: dict[str, Any], along: Scale) -> list[str]:
    """The area under the speed, one polygon for each unbroken part."""
    fast = speed_scale(charts)
    if fast is None:
        return []
    points = [(x, v) for x, v in zip(charts["speed"]["x"], charts["speed"]["v"], strict=True)]
    areas = []
    for known, run in groupby(points, key=lambda point: point[1] is not None):
        if known:
            part = [(along(x), fast(v)) for x, v in run]
            floor = fast(0.0)
            corners = [(part[0][0], floor), *part, (part[-1][0], floor)]
            areas.append(" ".join(f"{x:g},{y:g}" for x, y in corners))
    return areas
