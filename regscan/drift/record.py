"""The best speed record a run has: the log on the frames' clock, or the frames' own speeds."""

from dataclasses import dataclass

import numpy as np

from regscan.drift.frames import Frames
from regscan.recording.speedlog import SpeedLog

LEAD_S = 120.0  # how much of a log before the first and after the last frame is looked at
BRIDGED = 2  # samples in a row that may be lost, or a record that much short, without a gap


@dataclass(frozen=True, slots=True)
class Record:
    """Speed samples and where the frames lie among them.

    at           one position per sample, in seconds, metres or frames (`unit`).
    of_frames    the same measure for every frame of the run.
    gaps         (from, to) where nothing is known of the speed.
    """

    unit: str
    at: np.ndarray
    speed_m_min: np.ndarray
    of_frames: np.ndarray
    gaps: tuple[tuple[float, float], ...]


def speed_record(frames: Frames, log: SpeedLog | None) -> Record | None:
    """The log when it is on the frames' clock and meets them, else the frames' own speeds.

    None when neither says anything of the speed.
    """
    timed = bool(np.isfinite(frames.time_s).all())
    if log is not None and timed:
        first, last = frames.time_s.min() - LEAD_S, frames.time_s.max() + LEAD_S
        near = (log.time_s >= first) & (log.time_s <= last)
        overlaps = any(log.covers(float(t)) for t in frames.time_s)
        if overlaps and near.sum() >= 2:
            at, speed = log.time_s[near], log.speed_m_min[near]
            return Record("s", at, speed, frames.time_s, log.gaps)
    known = np.isfinite(frames.speed_m_min)
    if not known.any():
        return None
    if timed:
        unit, of_frames = "s", frames.time_s
    elif np.isfinite(frames.web_m).all():
        unit, of_frames = "m", frames.web_m
    else:
        unit, of_frames = "frames", np.arange(len(frames), dtype=float)
    speed, gaps = frames.speed_m_min[known], _gaps(known, of_frames)
    return Record(unit, of_frames[known], speed, of_frames, gaps)


def _gaps(known: np.ndarray, at: np.ndarray) -> tuple[tuple[float, float], ...]:
    """Where more than BRIDGED frames in a row carry no speed, from known frame to known frame."""
    places = np.flatnonzero(known)
    long = np.flatnonzero(np.diff(places) > BRIDGED + 1)
    return tuple((float(at[places[k]]), float(at[places[k + 1]])) for k in long)
