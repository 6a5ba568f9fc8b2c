"""When a frame's marks were printed: one frame shows marks of different age.

A frame at web position x shows what a station printed when x minus the web path
from that station to the camera stood at the camera. So a mark belongs to the
segment of *that* position, and an offset is settled only when both its colour
and the reference were printed within one hold.
"""

import numpy as np

from regscan.drift.drift import Segment
from regscan.drift.frames import Frames
from regscan.drift.series import Series
from regscan.job.job import Job

SETTLES = ("hold", "unknown", "standing")


def paths_m(series: Series, job: Job) -> tuple[float, float]:
    """(colour's, reference's) web path to the camera in m; 0 for a camera the job does not know."""
    try:
        own = job.press.path_to_camera_m(series.station, series.camera)
        reference = job.station_of(job.reference).number
        return own, job.press.path_to_camera_m(reference, series.camera)
    except KeyError:
        return 0.0, 0.0


def segment_of(
    series: Series, frames: Frames, segments: tuple[Segment, ...], job: Job
) -> np.ndarray:
    """The number of the segment each frame's offset belongs to; 0 for none.

    A hold's number only where colour and reference were both printed in it; a
    ramp's where either was printed in it, or it passed between the two. Without
    web positions the frame's own segment.
    """
    plain = _by_frame(series.frame, segments)
    web = frames.web_m[series.frame]
    starts = [s.start_m for s in segments]
    if len(segments) < 2 or not np.isfinite(web).all() or None in starts:
        return plain
    paths = paths_m(series, job)
    edges = np.array(starts[1:], dtype=float)
    early = np.searchsorted(edges, web - max(paths), side="right")
    late = np.searchsorted(edges, web - min(paths), side="right")
    first_ramp = _first_ramp(segments)[early]
    settles = np.array([s.phase in SETTLES for s in segments])
    held = (early == late) & settles[early]
    ramped = ~held & (first_ramp <= late)
    return np.where(held, early + 1, np.where(ramped, first_ramp + 1, 0))


def _by_frame(places: np.ndarray, segments: tuple[Segment, ...]) -> np.ndarray:
    firsts = np.array([s.first_frame for s in segments])
    return np.searchsorted(firsts, places, side="right")


def _first_ramp(segments: tuple[Segment, ...]) -> np.ndarray:
    """For each segment, the index of the first ramp at or after it (past the end: none)."""
    result = np.full(len(segments), len(segments))
    ahead = len(segments)
    for k in range(len(segments) - 1, -1, -1):
        ahead = k if segments[k].phase not in SETTLES else ahead
        result[k] = ahead
    return result


def speed_when_printed(series: Series, frames: Frames, job: Job) -> np.ndarray:
    """Web speed in m/min when each frame's colour was printed; NaN where not known.

    Without web positions, the speed at the frame.
    """
    web, speed = frames.web_m, frames.speed_m_min
    if not (np.isfinite(web).all() and np.isfinite(speed).any()):
        at_frames: np.ndarray = speed[series.frame]
        return at_frames
    known = np.isfinite(speed)
    own, _ = paths_m(series, job)
    at = web[series.frame] - own
    when = np.interp(at, web[known], speed[known])
    return np.where(known[series.frame], when, np.nan)
