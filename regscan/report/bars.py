"""Movement over the stations, and moves before and after, as drawings: geometry only.

Every point carries words, for those who hover over it or step through it by keyboard.
"""

from typing import Any

from regscan.job.job import AXES, Axis
from regscan.report.still import Scale, ticks
from regscan.report.words import offset_words, plain

WIDTH = 520.0
_HIGH, _MIDDLE = 124.0, 58.0  # of the drawing over the stations; its zero line
_BAR = 22.0
_ROW, _HEAD = 30.0, 26.0  # of the drawing of moves
COLUMNS: dict[Axis, tuple[float, float]] = {"circumferential": (120, 305), "lateral": (325, 510)}


def bars(one: dict[str, Any]) -> dict[str, Any]:
    """One bar per station, up for +, to the largest of them."""
    stations = one["stations"]
    most = max((abs(s["mm"]) for s in stations), default=0.0) or 1.0
    up = Scale(-most, most, _MIDDLE + 34.0, _MIDDLE - 34.0)
    step = (WIDTH - 20.0) / max(len(stations), 1)
    return {
        "high": _HIGH,
        "zero": _MIDDLE,
        "width": _BAR,
        "bars": [
            {
                **s,
                "x": round(10.0 + (k + 0.5) * step, 1),
                "y": min(up(s["mm"]), _MIDDLE),
                "tall": round(abs(up(s["mm"]) - _MIDDLE), 1),
                "figure": plain(abs(s["mm"]), 3) if s["mm"] else "",
                "figure_y": round(up(s["mm"]) + (15.0 if s["mm"] < 0 else -5.0), 1),
                "words": _bar_words(s, one["sides"]),
            }
            for k, s in enumerate(stations)
        ],
    }


def _bar_words(station: dict[str, Any], sides: tuple[str, str]) -> str:
    name = f"{station['station']} {station['ink']}"
    if station["reference"]:
        return f"{name}: reference"
    if not station["known"]:
        return f"{name}: not seen"
    if not station["mm"]:
        return f"{name}: no such movement"
    return f"{name}: {abs(station['mm']):.3f} mm {sides[station['mm'] < 0]}"


def before_after(rows: list[dict[str, Any]], half_mm: float) -> dict[str, Any]:
    """Each colour's settled offset now and as expected after its move, beside its tolerance."""
    scales = {axis: Scale(-half_mm, half_mm, *COLUMNS[axis]) for axis in AXES}
    drawn = [_moved(row, k, scales) for k, row in enumerate(rows)]
    return {
        "high": _HEAD + _ROW * len(rows) + 34.0,
        "foot": _HEAD + _ROW * len(rows),
        "row": _ROW,
        "rows": drawn,
        "ticks": {axis: [[scale(v), v] for v in ticks(-half_mm, half_mm, 4)]
                  for axis, scale in scales.items()},
        "columns": COLUMNS,
    }  # fmt: skip


def _moved(row: dict[str, Any], number: int, scales: dict[Axis, Scale]) -> dict[str, Any]:
    found: dict[str, Any] = {**row, "y": _HEAD + _ROW * (number + 0.5), "points": []}
    for axis, scale in scales.items():
        one, limit = row["axes"].get(axis), row["tolerance_mm"][axis]
        found["points"].append(
            {
                "axis": axis,
                "band": [scale.inside(-limit), scale.inside(limit)],
                "before": None if one is None else scale.inside(one["before_mm"]),
                "after": None if one is None else scale.inside(one["after_mm"]),
                "doubt": _doubt(one, scale),
                "moves": bool(one and one["moves"]),
                "words": _moved_words(row, axis, one),
            }
        )
    return found


def _doubt(one: dict[str, Any] | None, scale: Scale) -> list[float] | None:
    if one is None or one["sd_mm"] is None:
        return None
    reach = 2 * one["sd_mm"]
    return [scale.inside(one["after_mm"] - reach), scale.inside(one["after_mm"] + reach)]


def _moved_words(row: dict[str, Any], axis: Axis, one: dict[str, Any] | None) -> str:
    name = f"{row['station']} {row['ink']}, {axis}"
    if one is None:
        return f"{name}: not measured"
    now = offset_words(axis, one["before_mm"], one["before_sd_mm"])
    if not one["moves"]:
        return f"{name}: {now}, no move"
    then = offset_words(axis, one["after_mm"], one["sd_mm"])
    return f"{name}: now {now}, after the move {then}"
