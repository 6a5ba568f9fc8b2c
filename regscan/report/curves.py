"""Chart points: one curve per station, axis and view, thinned with its extremes kept."""

import math
from typing import Any

import numpy as np

from regscan.drift.drift import Segment, Stretch, Track
from regscan.job.job import AXES
from regscan.report.along import Along
from regscan.report.views import measured_tracks, view_of
from regscan.run import Run

# A chart is about a thousand pixels wide; more points than that hide each other.
POINTS = 1200
_LETTER = {"ok": "o", "doubtful": "d", "missing": "m"}


def chart_facts(run: Run, offsets: np.ndarray, along: Along) -> dict[str, Any]:
    """Everything the charts draw, as plain lists."""
    curves = [_curve(run, offsets, along, track) for track in measured_tracks(run)]
    return {
        "along": along.facts(),
        "frames": len(along.frames),
        "thinned": any(len(curve["x"]) < curve["of"] for curve in curves),
        "speed": _speed_curve(along),
        "segments": [_segment(segment, along) for segment in run.drift.segments],
        "curves": curves,
        "range_mm": {axis: _range(curves, axis) for axis in AXES},
    }


def _curve(run: Run, offsets: np.ndarray, along: Along, track: Track) -> dict[str, Any]:
    mine = np.flatnonzero(view_of(track).holds(offsets) & (offsets["ink"] == track.ink))
    mine = mine[np.argsort(along.frames.of_row[mine], kind="stable")]
    places, rows = along.places[along.frames.of_row[mine]], offsets[mine]
    values = rows[f"{track.axis}_mm"]
    kept = thinned(values, rows["status"] == "doubtful", POINTS)
    segments = {segment.number: segment for segment in run.drift.segments}
    return {
        "station": track.station,
        "ink": track.ink,
        "axis": track.axis,
        "view": view_of(track).words,
        "tolerance_mm": track.tolerance_mm,
        "of": len(rows),
        "x": [_number(place, 3) for place in places[kept]],
        "y": [_number(value, 4) for value in values[kept]],
        "v": [_number(value, 1) for value in rows["speed_m_min"][kept]],
        "status": "".join(_LETTER[str(status)] for status in rows["status"][kept]),
        "levels": [
            {**_ends(segments[level.segment], along), "mean_mm": level.mean_mm}
            for level in track.levels
            if level.segment in segments
        ],
        "reasons": list(track.reasons) if track.flagged else [],
        "stretches": [_stretch(stretch, track.camera, along) for stretch in track.stretches],
    }


def _stretch(stretch: Stretch, camera: str, along: Along) -> dict[str, Any]:
    start, end = along.of_stretch(stretch, camera)
    return {"from": start, "to": end, "returned": stretch.returned}


def thinned(values: np.ndarray, doubtful: np.ndarray, limit: int) -> np.ndarray:
    """Positions of the points to draw, in order; all of them up to `limit`.

    Beyond it the curve is cut into equal pieces, and the lowest and highest point
    of each piece stay, of the good and of the doubtful ones apart; a piece without
    any keeps one missing point, so that the curve breaks there. First and last stay.
    So `limit` good points are kept at most, the ends and doubtful ones on top.
    """
    count = len(values)
    if count <= limit:
        return np.arange(count)
    keep = {0, count - 1}
    known = np.isfinite(values)
    for piece in np.array_split(np.arange(count), limit // 2):
        for mask in (known & ~doubtful, known & doubtful):
            inside = piece[mask[piece]]
            if len(inside):
                keep |= {int(inside[np.argmin(values[inside])])}
                keep |= {int(inside[np.argmax(values[inside])])}
        if not known[piece].any():
            keep.add(int(piece[0]))
    return np.array(sorted(keep))


def _speed_curve(along: Along) -> dict[str, list[float | None]]:
    """Speed of every frame along the run; both lists empty where no speed is known."""
    speed = along.frames.speed_m_min
    if not np.isfinite(speed).any():
        return {"x": [], "v": []}
    kept = thinned(speed, np.zeros(len(speed), bool), POINTS)
    return {
        "x": [_number(place, 3) for place in along.places[kept]],
        "v": [_number(value, 1) for value in speed[kept]],
    }


def _segment(segment: Segment, along: Along) -> dict[str, Any]:
    return {
        "number": segment.number,
        "phase": segment.phase,
        **_ends(segment, along),
        "start_speed_m_min": segment.start_speed_m_min,
        "end_speed_m_min": segment.end_speed_m_min,
    }


def _ends(segment: Segment, along: Along) -> dict[str, float | None]:
    inside = along.places[segment.first_frame : segment.last_frame + 1]
    if not len(inside):
        return {"from": None, "to": None}
    return {"from": _number(inside[0], 3), "to": _number(inside[-1], 3)}


def _range(curves: list[dict[str, Any]], axis: str) -> float:
    """Half the height all charts of one axis share, mm; doubtful points do not stretch it."""
    half = 0.0
    for curve in curves:
        if curve["axis"] == axis:
            good = [
                abs(y)
                for y, s in zip(curve["y"], curve["status"], strict=True)
                if y is not None and s == "o"
            ]
            half = max(half, 1.3 * curve["tolerance_mm"], 1.08 * max(good, default=0.0))
    return half


def _number(value: Any, decimals: int) -> float | None:
    """A rounded plain number; None for NaN, since JSON has none."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), decimals)
