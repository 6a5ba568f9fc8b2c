"""Which of several views of a colour a history keeps."""

from collections import defaultdict

from regscan.drift.drift import Track
from regscan.job.job import Axis
from regscan.run import Run

Key = tuple[str, Axis]


def best_tracks(run: Run) -> dict[Key, Track]:
    """For each colour and axis the view with the most good frames; the reference left out."""
    views: dict[Key, list[Track]] = defaultdict(list)
    for track in run.drift.tracks:
        if track.ink != run.job.reference:
            views[track.ink, track.axis].append(track)
    return {key: max(tracks, key=lambda t: t.frames_ok) for key, tracks in views.items()}
