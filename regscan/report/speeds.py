"""Offset against speed, every ramp apart, slowing down told from speeding up: chart numbers.

The speed is the one at which the colour was printed, not that of the frame: in one
frame the marks of different stations are of different age.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from regscan.drift.drift import Track
from regscan.drift.frames import Frames
from regscan.report.views import measured_tracks, view_of
from regscan.run import Run

BINS = 24  # of the run's range of speeds, in every ramp: lowest, middle, highest offset stay
_RANGE = 0.1  # of the highest speed: with less between fast and slow there is nothing to see
WAYS = ("slowing down", "speeding up")


@dataclass(frozen=True, slots=True)
class Printed:
    """When a colour's rows were printed: speed in m/min, NaN where unknown, and segment."""

    speed_m_min: np.ndarray
    segment: np.ndarray


def speed_facts(run: Run, offsets: np.ndarray, frames: Frames) -> list[dict[str, Any] | None]:
    """For each of `measured_tracks`, what its chart over speed shows; None where none is told."""
    tracks = measured_tracks(run)
    known = frames.speed_m_min[np.isfinite(frames.speed_m_min)]
    fast, slow = (known.max(), known.min()) if len(known) else (0.0, 0.0)
    if fast - slow <= _RANGE * fast:
        return [None] * len(tracks)
    edges = np.linspace(slow, fast, BINS + 1)
    return [_chart(run, offsets, frames, track, edges) for track in tracks]


def _chart(
    run: Run, offsets: np.ndarray, frames: Frames, track: Track, edges: np.ndarray
) -> dict[str, Any] | None:
    mine = view_of(track).holds(offsets) & (offsets["ink"] == track.ink)
    mine &= (offsets["status"] == "ok") & np.isfinite(offsets[f"{track.axis}_mm"])
    places = frames.of_row[mine]
    printed = _printed(run, frames, places, track)
    values = offsets[f"{track.axis}_mm"][mine]
    ramps = [
        {"number": segment.number, "way": segment.phase, "bins": bins}
        for segment in run.drift.segments
        if segment.phase in WAYS
        for on in [printed.segment == segment.number]
        if (bins := _bins(printed.speed_m_min[on], values[on], edges))
    ]
    if not ramps:
        return None
    return {
        "range_m_min": [float(edges[0]), float(edges[-1])],
        "ramps": ramps,
        "holds": [
            {"number": n, "v": x.speed_m_min, "mean_mm": x.mean_mm, "spread_mm": x.spread_mm}
            for n, x in enumerate((x for x in track.levels if x.speed_m_min is not None), start=1)
        ],
    }


def _printed(run: Run, frames: Frames, places: np.ndarray, track: Track) -> Printed:
    """Speed and segment when the station printed what each of these frames shows."""
    web, speed, segments = frames.web_m, frames.speed_m_min, run.drift.segments
    numbers = np.array([0, *(segment.number for segment in segments)])
    known = np.isfinite(speed)
    if not np.isfinite(web).all() or any(s.start_m is None for s in segments):
        firsts = [segment.first_frame for segment in segments]
        return Printed(speed[places], numbers[np.searchsorted(firsts, places, "right")])
    at = web[places] - _path_m(run, track)
    starts = [segment.start_m for segment in segments[1:] if segment.start_m is not None]
    then = np.interp(at, web[known], speed[known])
    return Printed(
        np.where(at >= web.min(), then, np.nan),
        numbers[np.minimum(1 + np.searchsorted(starts, at, "right"), len(segments))],
    )


def _path_m(run: Run, track: Track) -> float:
    """Web path from the station to the camera, m; 0 for a camera the job does not know."""
    try:
        return run.job.press.path_to_camera_m(track.station, track.camera)
    except KeyError:
        return 0.0


def _bins(speed: np.ndarray, values: np.ndarray, edges: np.ndarray) -> list[dict[str, Any]]:
    """For every bin of speed that holds a frame: its middle, and the offsets in it."""
    found = []
    number = np.clip(np.searchsorted(edges, speed, "right") - 1, 0, len(edges) - 2)
    for k in range(len(edges) - 1):
        inside = values[np.isfinite(speed) & (number == k)]
        if len(inside):
            low, middle, high = (round(float(np.quantile(inside, q)), 4) for q in (0, 0.5, 1))
            v = round(float(edges[k] + edges[k + 1]) / 2, 1)
            found.append({"v": v, "low": low, "mid": middle, "high": high, "frames": len(inside)})
    return found
