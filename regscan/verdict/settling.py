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
from regscan.drift.words import lies
from regscan.job.job import Axis, Job
from regscan.verdict.approach_fit import Fit, fit_approach
from regscan.verdict.latest import last_places, level_among

SIGMAS_95 = 1.96
WAIT = "wait"
FEWEST = 12  # frames in a hold, below which nothing is said of how it settles
MATTERS = 0.1  # share of the tolerance; a smaller change left is settled
SEEN = 0.25  # share of the tolerance that must have been seen to change before anything is said
CONTEXT = 24  # frames looked at for how they settle, where fewer are to be corrected from
SURE = 36.0  # how much better than a constant the fit must be, in squared standard deviations


@dataclass(frozen=True, slots=True)
class Waiting:
    """A colour that has not settled on one axis.

    now_mm, final_mm   where it is and where it will probably end; final_mm and its
                       standard deviation are None where no end is in sight.
    wait_m, wait_s     until less than a tenth of the tolerance is left to go; None where
                       not known.
    again_m, again_s   where no end is in sight: after which to look again, which is as long
                       as it was seen to change up to now.
    """

    station: int
    ink: str
    axis: Axis
    now_mm: float
    final_mm: float | None
    final_sd_mm: float | None
    wait_m: float | None
    wait_s: float | None
    again_m: float | None = None
    again_s: float | None = None

    @property
    def words(self) -> str:
        """What to wait for, and where it will probably end, with its 95 % interval."""
        going = f"{WAIT}: still changing, now {lies(self.axis, self.now_mm)}"
        if self.final_mm is None or self.final_sd_mm is None:
            when = _amount(self.again_m, self.again_s) or "a while"
            return f"{going}; no end in sight yet, look again after {when}"
        if amount := _amount(self.wait_m, self.wait_s):
            going = going.replace(WAIT, f"{WAIT} {amount}", 1)
        reach = SIGMAS_95 * self.final_sd_mm
        return f"{going}; likely to end {lies(self.axis, self.final_mm)} ±{reach:.3f} mm"


def _amount(metres: float | None, seconds: float | None) -> str:
    """ "about 40 m (about 20 s)", of which only one may be known; "" for neither."""
    time = "" if seconds is None else f"about {seconds:.0f} s"
    if metres is None:
        return time
    return f"about {metres:.0f} m" + (f" ({time})" if time else "")


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
    along, unit = _along(frames, places, level)
    fit = fit_approach(along, series.value_mm[used])
    small = MATTERS * track.tolerance_mm
    if fit is None or fit.evidence < SURE:
        return track, None
    if max(abs(fit.jump_mm), abs(fit.size_mm - fit.left_mm)) < SEEN * track.tolerance_mm:
        return track, None
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


@dataclass(frozen=True, slots=True)
class _Unit:
    """What one unit along a hold is in metres and in seconds; None where not known."""

    metres: float | None
    seconds: float | None

    def in_metres(self, amount: float | None) -> float | None:
        return None if amount is None or self.metres is None else amount * self.metres

    def in_seconds(self, amount: float | None) -> float | None:
        return None if amount is None or self.seconds is None else amount * self.seconds


def _along(frames: Frames, places: np.ndarray, level: Level) -> tuple[np.ndarray, _Unit]:
    """What the hold runs along (metres, else seconds, else frames), and the unit of it."""
    web, time = frames.web_m[places], frames.time_s[places]
    speed = level.speed_m_min / 60.0 if level.speed_m_min else None
    if np.isfinite(web).all() and np.ptp(web) > 0:
        return web, _Unit(1.0, 1.0 / speed if speed else None)
    if np.isfinite(time).all() and np.ptp(time) > 0:
        return time, _Unit(speed, 1.0)
    return np.arange(len(places), dtype=float), _Unit(None, None)


def _waiting(track: Track, level: Level, fit: Fit, last: float, unit: _Unit) -> Waiting:
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
