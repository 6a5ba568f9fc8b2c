"""The press as a line of stations: where each colour prints, and what is to be done there."""

from dataclasses import dataclass
from typing import Any

from regscan.camera.camera import Camera
from regscan.drift.drift import Level, Stretch, Track
from regscan.job.job import AXES, Axis, Station
from regscan.report.orientation import half_size, upright, worst_places, xy
from regscan.report.swatches import swatch
from regscan.report.views import View, measured_tracks, settled_pair, stations_seen, worst_outside
from regscan.report.words import offset_words, plain, side
from regscan.run import Run

# By the name of the shape drawn (a state is never told by colour alone): its words, and more.
STATES = {
    "in": ("in register", ""),
    "out": ("out of tolerance", ""),
    "left": ("in register now", "but it left tolerance on the way"),
    "unknown": ("cannot be decided", ""),
    "reference": ("reference", "the others are measured against it"),
    "invisible": ("not measurable", "leaves no mark that a camera sees"),
    "unseen": ("not measured", "no camera sees it"),
}


# Half the side of a target in drawing units.
TARGET = 100.0


@dataclass(frozen=True, slots=True)
class _Seen:
    """What all views together say of one station."""

    tracks: list[Track]
    answers: set[str]


def line_facts(run: Run, views: list[View]) -> dict[str, Any]:
    """Stations in print order and cameras, with one common scale for the targets."""
    half = _half_mm(run)
    # All targets lie alike, whichever camera gave the levels: as the first one sees the web.
    camera = upright(run, views[0] if views else View("", ""), TARGET / half)
    return {
        "stations": [_station(run, views, station, camera) for station in run.job.press.stations],
        "cameras": _cameras(run),
        "half_mm": half,
        "web_travel": camera.web_travel,
        "drive_side": camera.drive_side,
        "several_views": len(views) > 1,
    }


def _station(run: Run, views: list[View], station: Station, camera: Camera) -> dict[str, Any]:
    ink = run.job.ink(station.ink)
    seen = _Seen(
        [t for t in measured_tracks(run) if t.station == station.number],
        {c.answer for c in run.verdict.cases if c.station == station.number},
    )
    state = _state(run, station, seen)
    tolerance = run.job.tolerance_for(station.ink)
    return {
        "number": station.number,
        "ink": station.ink,
        "swatch": swatch(ink.colour),
        "cover": ink.cover,
        "path_m": station.path_m,
        "state": state,
        "word": STATES[state][0],
        "more": _more(state, seen),
        "tolerance_mm": {axis: tolerance.of(axis) for axis in AXES},
        "tolerance_source": tolerance.source,
        "box": half_size(camera, [tolerance.of(axis) for axis in AXES]),
        "steps_mm": {axis: station.steps.of(axis) for axis in AXES},
        "places": []
        if state in ("reference", "invisible")
        else _places(run, views, station, camera),
        "moves": [c.words for c in run.corrections if c.station == station.number and c.move_mm],
    }


def _more(state: str, seen: _Seen) -> str:
    """What the word of the state leaves open."""
    inside = all(t.settled and abs(t.settled.mean_mm) <= t.tolerance_mm for t in seen.tracks)
    if state == "out" and inside and any(track.stretches for track in seen.tracks):
        return "settled inside, but was outside on the way"
    return STATES[state][1]


def _state(run: Run, station: Station, seen: _Seen) -> str:
    if not run.job.ink(station.ink).measurable:
        return "invisible"
    if station.ink == run.job.reference:
        return "reference"
    if not seen.tracks:
        return "unseen"
    if "out of tolerance" in seen.answers:
        return "out"
    if "cannot be decided" in seen.answers or not seen.answers:
        return "unknown"
    return "left" if any(track.flagged for track in seen.tracks) else "in"


def _places(run: Run, views: list[View], station: Station, camera: Camera) -> list[dict[str, Any]]:
    """Settled place of the colour as each view saw it."""
    found = []
    for number, view in enumerate(views):
        levels = settled_pair(run, view, station.number)
        worst = worst_outside(run, view, station.number)
        if station.number in stations_seen(run.job, view) or any(levels.values()):
            place: dict[str, Any] = {"view": number, "words": view.words, "dot": None}
            place |= {axis: _level(axis, level) for axis, level in levels.items()}
            known = [level for level in levels.values() if level]
            if len(known) == len(AXES):
                place["dot"] = xy(camera, [level.mean_mm for level in known])
                spread = [2 * (level.spread_mm or 0.0) for level in known]
                place["spread"] = half_size(camera, spread)
                settled = [level.mean_mm for level in known]
                place["worst"] = worst_places(camera, worst, settled)
            place["outside"] = [_went_out(axis, stretch) for axis, stretch in worst.items()]
            found.append(place)
    return found


def _went_out(axis: Axis, stretch: Stretch) -> str:
    speed = stretch.left_at_speed_m_min
    at = "" if speed is None else f", leaving at {plain(speed)} m/min"
    return f"was out to {offset_words(axis, stretch.worst_mm, stretch.worst_sd_mm)}{at}"


def _level(axis: Axis, level: Level | None) -> dict[str, Any] | None:
    if level is None:
        return None
    return {
        "mean_mm": level.mean_mm,
        "sd_mm": level.sd_mm,
        "spread_mm": level.spread_mm,
        "frames": level.frames,
        "speed_m_min": level.speed_m_min,
        "side": side(axis, level.mean_mm),
        "words": offset_words(axis, level.mean_mm, level.sd_mm),
        "doubtful": level.doubtful,
    }


def _cameras(run: Run) -> list[dict[str, Any]]:
    press = run.job.press
    posts = press.cameras or (press.camera(""),)
    return [
        {
            "name": post.name,
            "after_station": post.after_station,
            "path_m": post.path_m,
            "edge": post.edge,
            "from_first_m": press.path_to_camera_m(1, post.name),
        }
        for post in posts
    ]


def _half_mm(run: Run) -> float:
    """Half the side of every target, mm: tolerances, settled levels and worst points fit in."""
    tolerances = [run.job.tolerance_for(station.ink) for station in run.job.press.stations]
    reach = [1.3 * tolerance.of(axis) for tolerance in tolerances for axis in AXES]
    tracks = measured_tracks(run)
    reach += [1.15 * abs(track.settled.mean_mm) for track in tracks if track.settled]
    reach += [1.15 * abs(stretch.worst_mm) for track in tracks for stretch in track.stretches]
    return max(reach)
