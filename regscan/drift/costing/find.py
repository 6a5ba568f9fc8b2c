"""The cost of a run, from its table and what was found of it."""

from collections.abc import Iterator

import numpy as np

from regscan.drift.cost import Cost, StationCost
from regscan.drift.costing.colour import Colour, shift_m, shifts_m, whole
from regscan.drift.costing.outside import Outside, cuts_of, frames_of, merged, metres_of
from regscan.drift.costing.settle import settling_of
from regscan.drift.costing.whatif import Moves, if_moved, if_slowed
from regscan.drift.drift import Drift
from regscan.drift.frames import Frames, list_frames
from regscan.drift.printed import segment_of, speed_when_printed
from regscan.drift.series import all_series
from regscan.drift.stretches import good_frames
from regscan.job.job import Job
from regscan.recording.speedlog import SpeedLog


def find_cost(
    table: np.ndarray, job: Job, drift: Drift, moves: Moves, speed_log: SpeedLog | None = None
) -> Cost:
    """What the run cost, and would have cost with the moves made or with slower ramps.

    drift   what describe_run found of the same table; moves   what is advised.
    """
    frames = list_frames(table, speed_log)
    colours = list(_colours(table, job, drift, frames))
    found = [colour.outside() for colour in colours]
    cuts = cuts_of(found)
    return Cost(
        metres_total=drift.metres_total,
        metres_outside=whole(metres_of(found), drift),
        frames_total=len(frames),
        frames_outside=frames_of(found),
        stations=tuple(_stations(found, drift)),
        cuts=cuts,
        job_cuts=merged(cuts, found, frames.web_m + shifts_m(frames, job)),
        what_ifs=(if_moved(colours, moves, drift), if_slowed(colours, drift, frames, job)),
        settling=tuple(
            one
            for c in colours
            if c.series.ink != job.reference
            for one in settling_of(c.series, c.seen, drift.segments, frames.web_m)
        ),
    )


def _colours(table: np.ndarray, job: Job, drift: Drift, frames: Frames) -> Iterator[Colour]:
    tracks = {(t.camera, t.edge, t.ink, t.axis): t for t in drift.tracks}
    for series in all_series(table, frames, job):
        seen = good_frames(series, frames, speed_when_printed(series, frames, job))
        of_segment = segment_of(series, frames, drift.segments, job)[series.ok]
        track = tracks[series.camera, series.edge, series.ink, series.axis]
        yield Colour(series, seen, track, of_segment, shift_m(job, series.camera))


def _stations(found: list[Outside], drift: Drift) -> Iterator[StationCost]:
    for station in sorted({one.series.station for one in found}):
        mine = [one for one in found if one.series.station == station]
        metres = whole(metres_of(mine), drift)
        yield StationCost(station, mine[0].series.ink, metres, frames_of(mine))
