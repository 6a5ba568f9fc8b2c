"""From a table of offsets to what each station did along the run."""

import numpy as np

from regscan.drift.cameras import find_disagreements
from regscan.drift.drift import Drift, Track
from regscan.drift.edges import find_edges
from regscan.drift.frames import Frames, list_frames
from regscan.drift.notes import find_notes
from regscan.drift.pairing import both_edges
from regscan.drift.phases import find_segments
from regscan.drift.repeat import find_round
from regscan.drift.series import UNCALIBRATED, Calibration, all_series
from regscan.drift.tracks import make_track
from regscan.job.job import Job
from regscan.recording.speedlog import SpeedLog


def describe_run(
    table: np.ndarray,
    job: Job,
    speed_log: SpeedLog | None = None,
    calibration: Calibration = UNCALIBRATED,
) -> Drift:
    """Segments of the run, and one Track per colour, axis, camera and web edge.

    table       structured array with OFFSET_COLUMNS (see regscan.offsets.table).
    speed_log   on the same clock as the table's time_s; without one, the table's own
                speeds are used. What is not known reduces the answer, said in `notes`.
    calibration sd that each camera's calibration leaves in each offset, mm; part of the
                table's own doubts, and the same error in all its rows.

    Nothing is raised for a poor table: a colour never seen gives a flagged track
    without levels.
    """
    frames = list_frames(table, speed_log)
    segments = find_segments(frames, speed_log)
    series = list(all_series(table, frames, job, calibration))
    tracks = tuple(make_track(s, frames, segments, job) for s in series)
    both = list(both_edges(series, frames, job))
    edges = find_edges(both, frames, segments, job)
    return Drift(
        segments=segments,
        tracks=tracks,
        disagreements=find_disagreements(tracks, job.reference),
        metres_total=_length(frames),
        metres_outside=_metres_outside(tracks, frames, job),
        notes=find_notes(table, frames, segments, tracks, job),
        edges=edges,
        round_repeat=find_round(series, both, edges, frames, job),
    )


def _length(frames: Frames) -> float | None:
    """Metres of web from the first frame to the last; None where a position is not known."""
    if not len(frames) or not np.isfinite(frames.web_m).all():
        return None
    return float(np.ptp(frames.web_m))


def _metres_outside(tracks: tuple[Track, ...], frames: Frames, job: Job) -> float | None:
    """Metres of web on which any colour was outside; web outside twice over counts once."""
    if _length(frames) is None:
        return None
    spans = sorted(
        (stretch.from_m - shift, stretch.to_m - shift)
        for track in tracks
        for shift in [_camera_place_m(job, track.camera)]
        for stretch in track.stretches
        if stretch.from_m is not None and stretch.to_m is not None
    )
    total, reached = 0.0, -np.inf
    for start, end in spans:
        total += max(end - max(start, reached), 0.0)
        reached = max(reached, end)
    return float(total)


def _camera_place_m(job: Job, camera: str) -> float:
    """Web path from the first station: cameras further on see the same web later."""
    try:
        return job.press.path_to_camera_m(1, camera)
    except KeyError:
        return 0.0
