"""Views: which camera and web edge a number was seen by. Results keep them apart."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from regscan.drift.drift import Level, Stretch, Track, furthest_out
from regscan.job.job import AXES, Axis, Job
from regscan.job.layout import MarkDesign
from regscan.report.words import camera_words
from regscan.run import Run
from regscan.verdict.verdict import Case


@dataclass(frozen=True, slots=True)
class View:
    """One camera and web edge; both "" where the press has one camera and one mark set."""

    camera: str
    edge: str

    @property
    def words(self) -> str:
        """camera end, operator edge; "" where there is nothing to tell apart."""
        return camera_words(self.camera, self.edge)

    def holds(self, table: np.ndarray) -> np.ndarray:
        """For each row of a table, whether this view gave it."""
        mask: np.ndarray = (table["camera"] == self.camera) & (table["edge"] == self.edge)
        return mask


def views_of(run: Run, offsets: np.ndarray) -> list[View]:
    """Every view of the run, in the order in which it appears."""
    pairs = [(str(row["camera"]), str(row["edge"])) for row in _firsts(offsets)]
    return list(dict.fromkeys([*(View(*pair) for pair in pairs), *map(view_of, run.drift.tracks)]))


def _firsts(offsets: np.ndarray) -> Iterable[np.ndarray]:
    pairs = offsets[["camera", "edge"]]
    _, first = np.unique(pairs, return_index=True)
    return [offsets[k] for k in sorted(first)]


def view_of(seen: Track | Case) -> View:
    """The view that a track or a case of the gate rests on."""
    return View(seen.camera, seen.edge)


def measured_tracks(run: Run) -> list[Track]:
    """Tracks of the run without the reference colour, which is zero by definition."""
    return [track for track in run.drift.tracks if track.ink != run.job.reference]


def track_of(run: Run, view: View, station: int, axis: Axis) -> Track | None:
    """What the run says of one station and axis as seen by one view, if anything."""
    for track in run.drift.tracks:
        if view_of(track) == view and (track.station, track.axis) == (station, axis):
            return track
    return None


def worst_outside(run: Run, view: View, station: int) -> dict[Axis, Stretch]:
    """The stretch outside tolerance that went furthest, on each axis that has one."""
    found = {axis: track_of(run, view, station, axis) for axis in AXES}
    return {
        axis: furthest_out(track.stretches)
        for axis, track in found.items()
        if track and track.stretches
    }


def settled_pair(run: Run, view: View, station: int) -> dict[Axis, Level | None]:
    """The settled level on each axis; None where there is none."""
    found = {axis: track_of(run, view, station, axis) for axis in AXES}
    return {axis: track.settled if track else None for axis, track in found.items()}


def designs_seen(job: Job, view: View) -> tuple[MarkDesign, ...]:
    """The design marks that view can show: printed before its camera, and on its edge.

    A camera the job does not name (a table from elsewhere) can show them all.
    """
    try:
        return job.marks_seen(view.camera, view.edge)
    except KeyError:
        return tuple(mark for mark in job.marks if view.edge in ("", mark.edge) or not mark.edge)


def stations_seen(job: Job, view: View) -> set[int]:
    """Stations whose marks that view can show."""
    return {job.station_of(mark.ink).number for mark in designs_seen(job, view)}
