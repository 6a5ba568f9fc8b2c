"""Moves that bring each colour back: minus its settled offset, in whole steps, or leave alone.

The tool advises and moves nothing. A move inside the dead band is not advised:
it would chase noise. See docs/how/corrections.md.
"""

import csv
import io
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from pathlib import Path

from regscan.drift.drift import Drift, Track
from regscan.drift.words import at_speed, lies
from regscan.job.job import AXES, Axis, Job, Station
from regscan.verdict.actuator import actuator_of
from regscan.verdict.aims import dead_band_mm
from regscan.verdict.verdict import Correction
from regscan.verdict.views import settled_view
from regscan.verdict.waiting import Waiting
from regscan.verdict.waits import wait_m, wait_s
from regscan.verdict.words import approach, spoken
from regscan.wholefile import write_whole

NOT_MEASURED = "not measured"


def propose_moves(
    drift: Drift, job: Job, waiting: Mapping[tuple[str, Axis], Waiting] | None = None
) -> tuple[Correction, ...]:
    """One Correction per station and axis, in print order; every station is listed.

    waiting   colours that are still changing (settling.settle): no move, and what to wait for.

    The reference gets no move. A colour that is invisible, was never found or never
    settled has None for its numbers, and words that say why.
    """
    return tuple(
        _waits(wait)
        if (wait := (waiting or {}).get((station.ink, axis)))
        else _correction(_of(drift, station.ink, axis), station, axis, job)
        for station in job.press.stations
        for axis in AXES
    )


def _waits(wait: Waiting) -> Correction:
    """No move now; what remains is where it will probably end."""
    final, sd = wait.final_mm, wait.final_sd_mm
    return Correction(wait.station, wait.ink, wait.axis, 0.0, 0, wait.words, final, sd)


@dataclass(frozen=True)
class _Seen:
    """What all cameras saw of one colour on one axis; the speed at the end of the run."""

    tracks: list[Track]
    speed_m_min: float | None


def _of(drift: Drift, ink: str, axis: Axis) -> _Seen:
    tracks = [track for track in drift.tracks if track.ink == ink and track.axis == axis]
    return _Seen(tracks, drift.segments[-1].end_speed_m_min if drift.segments else None)


def _correction(seen: _Seen, station: Station, axis: Axis, job: Job) -> Correction:
    if station.ink == job.reference:
        words = "leave (reference)"
        return Correction(station.number, station.ink, axis, 0.0, 0, words, 0.0, 0.0)
    view = settled_view(seen.tracks)
    if view is None:
        words = f"{NOT_MEASURED}: {_why_not(seen, station, job)}"
        return Correction(station.number, station.ink, axis, None, None, words, None, None)
    if station.locked:
        words = f"leave (locked): {lies(axis, view.offset_mm, view.sd_mm)} stays"
        return Correction(
            station.number, station.ink, axis, 0.0, 0, words, round(view.offset_mm, 9), view.sd_mm
        )
    actuator = actuator_of(station, axis, {})
    step = actuator.step_mm
    band = dead_band_mm(view.sd_mm, step, job.tolerance_for(station.ink).of(axis))
    # Half a step goes outward, so that whatever lies outside the dead band is moved.
    steps = 0 if abs(view.offset_mm) < band else actuator.steps_for(-view.offset_mm)
    move = round(steps * step, 9)
    how = approach(axis, steps, actuator)
    said = spoken(axis, move, job.direction_words)
    moved_sd = move * actuator.step_sd
    parts = (said, how, view.apart, _elsewhere(seen.tracks, move, moved_sd))
    words = "; ".join(part for part in parts if part)
    remaining = round(view.offset_mm + move, 9)
    sd = _doubt(view.sd_mm, moved_sd)
    return Correction(station.number, station.ink, axis, move, steps, words, remaining, sd)


def _doubt(sd_mm: float | None, moved_sd_mm: float) -> float | None:
    return None if sd_mm is None else math.hypot(sd_mm, moved_sd_mm)


def _elsewhere(tracks: list[Track], move_mm: float, moved_sd_mm: float) -> str:
    """The hold that would lie furthest outside tolerance after the move, in words.

    A fixed setting fits one speed; what another speed does is not cured by it.
    """
    holds = [(t, v) for t in tracks for v in t.levels if v.speed_m_min and not v.doubtful]
    # The settled level may come from the last frames of its hold alone.
    other = [(t, v) for t, v in holds if not t.settled or v.segment != t.settled.segment]
    left = [(t, v, v.mean_mm + move_mm) for t, v in other]
    outside = [(t, v, mm) for t, v, mm in left if abs(mm) > t.tolerance_mm]
    if not outside:
        return ""
    track, level, mm = max(outside, key=lambda found: abs(found[2]))
    then = lies(track.axis, mm, _doubt(level.sd_mm, moved_sd_mm))
    return f"{then}{at_speed(level.speed_m_min)} stays"


def _why_not(seen: _Seen, station: Station, job: Job) -> str:
    tracks = seen.tracks
    if not job.ink(station.ink).measurable:
        return "the ink leaves no visible mark"
    if any(track.settled for track in tracks):
        return "only doubtful marks were seen"
    if any(track.frames_ok for track in tracks):
        metres = wait_m(station, job)
        seconds = wait_s(metres, seen.speed_m_min)
        time = "" if seconds is None else f" ({seconds:.0f} s at {seen.speed_m_min:.0f} m/min)"
        return (
            "the colour did not settle at one speed: hold one, then wait"
            f" {metres:.1f} m of web{time}"
        )
    return "the colour was not found"


def write_corrections(path: Path, corrections: Sequence[Correction]) -> None:
    """corrections.csv in the contract's columns, whole or not at all. Raises BadOutput."""
    names = [field.name for field in fields(Correction)]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(names)
    for correction in corrections:
        writer.writerow([_cell(getattr(correction, name)) for name in names])
    write_whole(path, text.getvalue())


def _cell(value: object) -> str:
    if value is None:
        return ""
    return f"{value:.6f}" if isinstance(value, float) else str(value)
