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
from regscan.drift.mean import correlation_frames, sd_of_mean
from regscan.drift.printed import segment_of
from regscan.drift.series import Series, all_series
from regscan.drift.words import lies
from regscan.job.job import Axis, Job
from regscan.verdict.approach_fit import Fit, fit_approach

SIGMAS_95 = 1.96
WAIT = "wait"
FEWEST = 12  # frames in a hold, below which nothing is said of how it settles
MATTERS = 0.1  # share of the tolerance; a smaller change left is settled
SEEN = 0.25  # share of the tolerance that must have been seen to change before anything is said
SURE = 36.0  # how much better than a constant the fit must be, in squared standard deviations


@dataclass(frozen=True, slots=True)
class Waiting:
    """A colour that has not settled on one axis.

    now_mm, final_mm   where it is and where it will probably end; final_mm and its
                       standard deviation are None where no end is in sight.
    wait_m, wait_s     until less than a tenth of the tolerance is left to go; None where
                       not known.
    """

    station: int
    ink: str
    axis: Axis
    now_mm: float
    final_mm: float | None
    final_sd_mm: float | None
    wait_m: float | None
    wait_s: float | None

    @property
    def words(self) -> str:
        """What to wait for, and where it will probably end, with its 95 % interval."""
        going = f"{WAIT}: still changing, now {lies(self.axis, self.now_mm)}"
        if self.final_mm is None or self.final_sd_mm is None:
            return f"{going}; no end in sight yet, look again in a while"
        if self.wait_m is not None:
            time = "" if self.wait_s is None else f" (about {self.wait_s:.0f} s)"
            going = going.replace(WAIT, f"{WAIT} about {self.wait_m:.0f} m{time}", 1)
        reach = SIGMAS_95 * self.final_sd_mm
        return f"{going}; likely to end {lies(self.axis, self.final_mm)} ±{reach:.3f} mm"


@dataclass(frozen=True)
class Settled:
    """The run with its settled levels freed of what was transient, and who has to wait."""

    drift: Drift
    waiting: Mapping[tuple[str, Axis], Waiting]


def settle(table: np.ndarray, drift: Drift, job: Job) -> Settled:
    """Look into the settled hold of every track for what is not yet, or was not always, settled.

    table   the offsets the drift was told from.
    """
    frames = list_frames(table, None)
    series = {(s.ink, s.camera, s.edge, s.axis): s for s in all_series(table, frames, job)}
    tracks: list[Track] = []
    waiting: dict[tuple[str, Axis], Waiting] = {}
    for track in drift.tracks:
        own = series.get((track.ink, track.camera, track.edge, track.axis))
        new, wait = (track, None) if own is None else _look(track, own, frames, drift, job)
        tracks.append(new)
        if wait and track.ink != job.reference:
            waiting.setdefault((track.ink, track.axis), wait)
    return Settled(replace(drift, tracks=tuple(tracks)), waiting)


def _look(
    track: Track, series: Series, frames: Frames, drift: Drift, job: Job
) -> tuple[Track, Waiting | None]:
    level = track.settled
    if level is None or level.doubtful:
        return track, None
    used = series.ok & (segment_of(series, frames, drift.segments, job) == level.segment)
    if used.sum() < FEWEST:
        return track, None
    places = series.frame[used]
    along, metres = _along(frames, places, level)
    fit = fit_approach(along, series.value_mm[used])
    small = MATTERS * track.tolerance_mm
    if fit is None or fit.evidence < SURE:
        return track, None
    if max(abs(fit.jump_mm), abs(fit.size_mm - fit.left_mm)) < SEEN * track.tolerance_mm:
        return track, None
    if fit.ended and abs(fit.left_mm) < small:
        if abs(fit.final_mm - level.mean_mm) < small:
            return track, None
        tail = _tail(fit, along, series.value_mm[used], level, small)
        return (replace(track, settled=tail), None) if tail else (track, None)
    return track, _waiting(track, level, fit, metres, small)


def _along(frames: Frames, places: np.ndarray, level: Level) -> tuple[np.ndarray, float | None]:
    """What the hold runs along (metres, else seconds, else frames), and metres per unit of it."""
    web, time = frames.web_m[places], frames.time_s[places]
    if np.isfinite(web).all() and np.ptp(web) > 0:
        return web, 1.0
    if np.isfinite(time).all() and np.ptp(time) > 0:
        speed = level.speed_m_min
        return time, speed / 60.0 if speed else None
    return np.arange(len(places), dtype=float), None


def _tail(
    fit: Fit, along: np.ndarray, values: np.ndarray, level: Level, small: float
) -> Level | None:
    """The level of the frames after the transient died away; None when there are too few."""
    gone = fit.gone_at(small)
    rest = values[along >= gone]
    if len(rest) < FEWEST // 2:
        return None
    mean, spread = float(rest.mean()), float(rest.std(ddof=1))
    own = sd_of_mean(spread, correlation_frames([rest - mean]), len(rest))
    return replace(
        level,
        frames=len(rest),
        mean_mm=mean,
        sd_mm=math.hypot(own, level.zero_sd_mm),
        spread_mm=spread,
    )


def _waiting(track: Track, level: Level, fit: Fit, metres: float | None, small: float) -> Waiting:
    ends = fit.ended and fit.final_sd_mm < max(abs(fit.left_mm), small)
    units = fit.length * math.log(abs(fit.left_mm) / small) if ends and fit.left_mm else None
    wait_m = None if units is None or metres is None else units * metres
    speed = level.speed_m_min
    return Waiting(
        station=track.station,
        ink=track.ink,
        axis=track.axis,
        now_mm=fit.now_mm,
        final_mm=fit.final_mm if ends else None,
        final_sd_mm=fit.final_sd_mm if ends else None,
        wait_m=wait_m,
        wait_s=wait_m / speed * 60.0 if wait_m is not None and speed else None,
    )
