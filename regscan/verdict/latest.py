"""Some frames of a run alone: the level a colour settled at in them.

The segments stay those of the whole run: a few frames by themselves could not tell a ramp
from a hold, nor what was printed before the ramp and is only now at the camera.
"""

from dataclasses import replace

import numpy as np

from regscan.drift.drift import Drift, Level, Track
from regscan.drift.frames import Frames
from regscan.drift.levels import find_levels
from regscan.drift.printed import segment_of
from regscan.drift.series import Series
from regscan.job.job import Job


def last_places(frames: Frames, number: int | None) -> np.ndarray:
    """Whether each frame of the run is among the last so many of its camera; None: all are."""
    if number is None:
        return np.ones(len(frames), dtype=bool)
    keep = np.zeros(len(frames), dtype=bool)
    for camera in np.unique(frames.camera):
        keep[np.flatnonzero(frames.camera == camera)[-number:]] = True
    return keep


def level_among(
    keep: np.ndarray, series: Series, track: Track, about: tuple[Frames, Drift, Job]
) -> Level | None:
    """The level of the latest hold that has one, from some of the run's frames alone.

    keep   one entry per frame of the run. None where none of them was printed in a hold.
    """
    frames, drift, job = about
    mine = keep[series.frame]
    # The doubt of the zero is the track's: the table does not know the calibration's.
    known = track.levels[0] if track.levels else series
    series = replace(
        series,
        ok=series.ok & mine,
        doubtful=series.doubtful & mine,
        zero_sd_mm=known.zero_sd_mm,
        camera_sd_mm=known.camera_sd_mm,
    )
    of_segment = segment_of(series, frames, drift.segments, job)
    levels = find_levels(series, of_segment, drift.segments)
    return levels[-1] if levels else None
