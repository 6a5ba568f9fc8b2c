"""Offset against speed as a drawing: geometry only, in drawing units.

Every point of it carries words, for those who hover over it or step through it by keyboard.
"""

from typing import Any

from regscan.job.job import Axis
from regscan.report.still import BOTTOM, HEIGHT, LEFT, RIGHT, TOP, WIDTH, Scale, ticks
from regscan.report.words import count, offset_words, plain


def loop(chart: dict[str, Any], curve: dict[str, Any], half_mm: float) -> dict[str, Any]:
    """One chart of offset over speed, to the same scale of offsets as the charts along the run."""
    slow, fast = chart["range_m_min"]
    room = 0.04 * (fast - slow)
    along = Scale(slow - room, fast + room, LEFT, WIDTH - RIGHT)
    up = Scale(-half_mm, half_mm, HEIGHT - BOTTOM, TOP)
    axis: Axis = curve["axis"]
    marks = ticks(up.low, up.high, 5)
    return {
        "band": [up(curve["tolerance_mm"]), up(-curve["tolerance_mm"])],
        "ramps": [_ramp(ramp, axis, along, up) for ramp in chart["ramps"]],
        "holds": [_hold(hold, axis, along, up) for hold in chart["holds"]],
        "x_ticks": [[along(v), v] for v in ticks(slow, fast, 6)],
        "y_ticks": [[up(y), y, 3 if len(marks) > 1 and marks[1] - marks[0] < 0.0099 else 2]
                    for y in marks],
    }  # fmt: skip


def _ramp(ramp: dict[str, Any], axis: Axis, along: Scale, up: Scale) -> dict[str, Any]:
    return {
        "way": ramp["way"],
        "line": " ".join(f"{along(b['v']):g},{up.inside(b['mid']):g}" for b in ramp["bins"]),
        "points": [
            {
                "x": along(b["v"]),
                "y": up.inside(b["mid"]),
                "from": up.inside(b["low"]),
                "to": up.inside(b["high"]),
                "words": _bin_words(ramp, b, axis),
            }
            for b in ramp["bins"]
        ],
    }


def _bin_words(ramp: dict[str, Any], one: dict[str, Any], axis: Axis) -> str:
    middle = offset_words(axis, one["mid"])
    frames = count(one["frames"], "frame")
    ends = ""
    if one["frames"] > 1:
        ends = f", from {offset_words(axis, one['low'])} to {offset_words(axis, one['high'])}"
    where = f"part {ramp['number']}, {ramp['way']}, about {plain(one['v'])} m/min"
    return f"{where}: {middle}{ends} ({frames})"


def _hold(hold: dict[str, Any], axis: Axis, along: Scale, up: Scale) -> dict[str, Any]:
    spread = hold["spread_mm"] or 0.0
    return {
        "number": hold["number"],
        "x": along.inside(hold["v"]),
        "y": up.inside(hold["mean_mm"]),
        "from": up.inside(hold["mean_mm"] - 2 * spread),
        "to": up.inside(hold["mean_mm"] + 2 * spread),
        "words": f"hold {hold['number']} at {plain(hold['v'])} m/min: "
        f"{offset_words(axis, hold['mean_mm'])}",
    }
