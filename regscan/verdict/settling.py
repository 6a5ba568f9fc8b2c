"""Is a hold settled? Warm-ups, splices and jumps inside it, and how each will end.

A register move cures a lasting offset. What is still on its way is not corrected: it is
said what to wait for and where it will probably end. See docs/how/corrections.md.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from regscan.drift.drift import Drift, Level, Track
from regscan.drift.frames import Frames, list_frames
from regscan.drift.printed import segment_of
from regscan.drift.series import Series, all_series
from regscan.job.job import Axis, Job
from regscan.verdict.approach_fit import Fit, fit_approach
from regscan.verdict.latest import last_places, level_among
from regscan.verdict.waiting import Unit, Waiting, along_hold

FEWEST = 12  # frames in a hold, below which nothing is said of how it settles
MATTERS = 0.1  # share of the tolerance; a smaller change left is settled
SEEN = 0.25  # share of the tolerance that must have been seen to change before anything is said
CONTEXT = 24  # frames looked at for how they settle, where fewer are to be corrected from
OFF = 4.0  # standard deviations by which few frames must lie elsewhere than those before them
SURE = 36.0  # how much better than a constant the fit must be, in squared standard deviations


@dataclass(frozen=True)
class Settled:
    """The run with its settled levels freed of what was transient, and who has to wait."""

    drift: Drift
    waiting: Mapping[tuple[str, Axis], Waiting]


@dataclass(frozen=True)
class _Frames:
    """What is looked at. keep: frames the levels come from; near: those that show how they
    settle; one entry per frame of the run."""

    frames: Frames
    drift: Drift
    job: Job
    keep: np.ndarray
    near: np.ndarray
    last: bool

    def level(self, keep: np.ndarray, series: Series, track: Track) -> Level | None:
        return level_among(keep, series, track, (self.frames, self.drift, self.job))


def settle(table: np.ndarray, drift: Drift, job: Job, last: int | None = None) -> Settled:
    """Look into the settled hold of every track for what is not yet, or was not always, settled.

    table   the offsets the drift was told from.
    last    take the levels from the last so many frames of each camera alone. Those that
            were printed in a ramp, or whose reference was, give none.
    """
    frames = list_frames(table, None)
    keep = last_places(frames, last)
    near = last_places(frames, last and max(last, CONTEXT))
    looked = _Frames(frames, drift, job, keep, near, last is not None)
    series = {(s.ink, s.camera, s.edge, s.axis): s for s in all_series(table, frames, job)}
    tracks: list[Track] = []
    waiting: dict[tuple[str, Axis], Waiting] = {}
    for track in drift.tracks:
        own = series.get((track.ink, track.camera, track.edge, track.axis))
        new, wait = (track, None) if own is None else _look(track, own, looked)
        tracks.append(new)
        if wait and track.ink != job.reference:
            waiting.setdefault((track.ink, track.axis), wait)
    return Settled(replace(drift, tracks=tuple(tracks)), waiting)


def _look(track: Track, series: Series, looked: _Frames) -> tuple[Track, Waiting | None]:
    if looked.last:
        track = replace(track, settled=looked.level(looked.keep, series, track))
    level, frames = track.settled, looked.frames
    if level is None or level.doubtful:
        return track, None
    held = segment_of(series, frames, looked.drift.segments, looked.job) == level.segment
    used = series.ok & held & looked.near[series.frame]
    if used.sum() < FEWEST:
        return track, None
    places = series.frame[used]
    along, unit = along_hold(frames, places, level)
    fit = fit_approach(along, series.value_mm[used])
    small = MATTERS * track.tolerance_mm
    changed = 0.0 if fit is None else max(abs(fit.jump_mm), abs(fit.size_mm - fit.left_mm))
    if fit is None or fit.evidence < SURE or changed < SEEN * track.tolerance_mm:
        new = looked.keep[places]
        return track, _standing_off(track, level, along, (series.value_mm[used], new), unit)
    if not (fit.ended and abs(fit.left_mm) < small):
        return track, _waiting(track, level, fit, float(along[-1]), unit)
    if abs(fit.final_mm - level.mean_mm) < small:
        return track, None
    rest = np.zeros(len(frames), dtype=bool)
    rest[places[along >= fit.gone_at(small)]] = True
    rest &= looked.keep
    if rest.sum() < FEWEST // 2 and not looked.last:
        return track, None
    tail = looked.level(rest, series, track)
    return (replace(track, settled=tail) if tail else track), None


def _standing_off(
    track: Track, level: Level, along: np.ndarray, seen: tuple[np.ndarray, np.ndarray], unit: Unit
) -> Waiting | None:
    """A wait for few frames that lie elsewhere than those before them: what they show may be a
    splice or a single bad print, or a jump; more frames will tell.

    seen   (offset of every frame looked at, whether it is among the last that were asked for).
    """
    values, new = seen
    if new.all() or not new.any() or new.sum() >= FEWEST:
        return None
    before = values[~new]
    middle = float(np.median(before))
    spread = 1.4826 * float(np.median(np.abs(before - middle)))
    away = abs(float(values[new].mean()) - middle)
    doubt = OFF * spread * math.sqrt(1.0 / new.sum() + 1.0 / len(before))
    if away < max(SEEN * track.tolerance_mm, doubt):
        return None
    again = float(along[-1] - along[0]) / (len(along) - 1) * (FEWEST // 2)
    waits = unit.in_metres(again), unit.in_seconds(again)
    now = level.mean_mm
    about = (track.station, track.ink, track.axis)
    return Waiting(*about, now, None, None, None, None, *waits)


def _waiting(track: Track, level: Level, fit: Fit, last: float, unit: Unit) -> Waiting:
    small = MATTERS * track.tolerance_mm
    ends = fit.ended and fit.final_sd_mm < max(abs(fit.left_mm), small)
    more = fit.length * math.log(abs(fit.left_mm) / small) if ends and fit.left_mm else None
    again = None if ends else last - fit.start
    return Waiting(
        station=track.station,
        ink=track.ink,
        axis=track.axis,
        now_mm=fit.now_mm,
        final_mm=fit.final_mm if ends else None,
        final_sd_mm=fit.final_sd_mm if ends else None,
        wait_m=unit.in_metres(more),
        wait_s=unit.in_seconds(more),
        again_m=unit.in_metres(again),
        again_s=unit.in_seconds(again),
    )
