"""The cost of a run, from its table and what was found of it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from regscan.drift.cost import Cost, StationCost, WhatIf
from regscan.drift.costing.outside import (
    Outside,
    as_if,
    cuts_of,
    frames_of,
    merged,
    metres_of,
    outside_of,
)
from regscan.drift.costing.settle import settling_of
from regscan.drift.costing.slower import RAMPS, SLOWER, with_slower_ramps
from regscan.drift.drift import Drift, Segment, Track
from regscan.drift.frames import Frames, list_frames
from regscan.drift.printed import segment_of, speed_when_printed
from regscan.drift.series import Series, all_series
from regscan.drift.stretches import Seen, good_frames
from regscan.job.job import Axis, Job
from regscan.recording.speedlog import SpeedLog

Moves = Mapping[tuple[str, Axis], float | None]  # mm, by ink and axis; None: not measured

AS_MOVED = "every advised move made before the run, exactly and the same at every speed"
AS_SLOWER = (
    "every ramp at half its rate, speeds and holds as they were: what goes with acceleration"
    " halves, what goes with speed stays and is printed for twice the metres"
)
NO_METRES = "web positions are not known"


@dataclass(frozen=True)
class _Colour:
    """One series with all that is needed of it; shift_m: to the last camera."""

    series: Series
    seen: Seen
    track: Track
    of_segment: np.ndarray
    shift_m: float

    def outside(self) -> Outside:
        return outside_of(self.series, self.seen, self.shift_m)


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
        metres_outside=_whole(metres_of(found), drift),
        frames_total=len(frames),
        frames_outside=frames_of(found),
        stations=tuple(_stations(found, drift)),
        cuts=cuts,
        job_cuts=merged(cuts, found, frames.web_m + _shifts(frames, job)),
        what_ifs=(_moved(colours, moves, drift), _slowed(colours, drift, frames, job)),
        settling=tuple(
            one
            for c in colours
            if c.series.ink != job.reference
            for one in settling_of(c.series, c.seen, drift.segments, frames.web_m)
        ),
    )


def _colours(table: np.ndarray, job: Job, drift: Drift, frames: Frames) -> Iterator[_Colour]:
    tracks = {(t.camera, t.edge, t.ink, t.axis): t for t in drift.tracks}
    for series in all_series(table, frames, job):
        seen = good_frames(series, frames, speed_when_printed(series, frames, job))
        of_segment = segment_of(series, frames, drift.segments, job)[series.ok]
        track = tracks[series.camera, series.edge, series.ink, series.axis]
        yield _Colour(series, seen, track, of_segment, _shift_m(job, series.camera))


def _shift_m(job: Job, camera: str) -> float:
    """Web path from a camera to the last one; 0 for one the job does not know."""
    press = job.press
    try:
        own = press.path_to_camera_m(1, camera)
    except KeyError:
        return 0.0
    return max([own, *(press.path_to_camera_m(1, post.name) for post in press.cameras)]) - own


def _shifts(frames: Frames, job: Job) -> np.ndarray:
    shifts = {name: _shift_m(job, name) for name in set(frames.camera.tolist())}
    return np.array([shifts[name] for name in frames.camera.tolist()])


def _whole(metres: float | None, drift: Drift) -> float | None:
    """Metres outside, where the metres of the run are known at all."""
    return None if drift.metres_total is None else metres


def _stations(found: list[Outside], drift: Drift) -> Iterator[StationCost]:
    for station in sorted({one.series.station for one in found}):
        mine = [one for one in found if one.series.station == station]
        metres = _whole(metres_of(mine), drift)
        yield StationCost(station, mine[0].series.ink, metres, frames_of(mine))


def _moved(colours: list[_Colour], moves: Moves, drift: Drift) -> WhatIf:
    if not any(colour.track.settled for colour in colours):
        return WhatIf("advised moves", AS_MOVED, None, None, "nothing settled, so no move is known")
    found = []
    for colour in colours:
        move = moves.get((colour.series.ink, colour.series.axis)) or 0.0
        seen = as_if(colour.series, colour.seen, colour.seen.value_mm + move, colour.seen.web_m)
        found.append(outside_of(colour.series, seen, colour.shift_m))
    metres = _whole(metres_of(found), drift)
    return WhatIf("advised moves", AS_MOVED, metres, frames_of(found))


def _slowed(colours: list[_Colour], drift: Drift, frames: Frames, job: Job) -> WhatIf:
    """Frames are not counted: a slower ramp would have had others."""
    unknown = _why_not_slowed(drift)
    if unknown:
        return WhatIf("slower ramps", AS_SLOWER, None, None, unknown)
    stretch = _Longer.of(frames, drift.segments, job)
    found = []
    for colour in colours:
        series, seen = colour.series, colour.seen
        value = with_slower_ramps(colour.track, seen, colour.of_segment, drift.segments)
        if isinstance(value, str):
            if colour.outside().stretches:
                who = f"station {series.station} {series.ink}, {series.axis}"
                return WhatIf("slower ramps", AS_SLOWER, None, None, f"{who}: {value}")
            value = seen.value_mm
        slowed = as_if(series, seen, value, stretch.place(seen.web_m + colour.shift_m))
        found.append(outside_of(series, slowed, 0.0))
    return WhatIf("slower ramps", AS_SLOWER, metres_of(found), None)


def _why_not_slowed(drift: Drift) -> str:
    if not any(segment.phase in RAMPS for segment in drift.segments):
        return "this run has no ramp"
    if drift.metres_total is None:
        return NO_METRES
    if any(s.phase == "unknown" or s.start_m is None for s in drift.segments):
        return "the speed is not known all along the run"
    return ""


@dataclass(frozen=True)
class _Longer:
    """Web positions at the last camera, before and after all ramps were made longer."""

    before_m: np.ndarray
    after_m: np.ndarray

    @classmethod
    def of(cls, frames: Frames, segments: tuple[Segment, ...], job: Job) -> "_Longer":
        """What was printed in a ramp passes the camera later by the path of the middle station."""
        stations = job.press.stations
        last = job.press.cameras[-1].name if job.press.cameras else ""
        path = job.press.path_to_camera_m(stations[len(stations) // 2].number, last)
        shift = float(_shifts(frames, job)[0])
        borders = [float(s.start_m or 0.0) + shift for s in segments]
        borders.append(float(segments[-1].end_m or 0.0) + shift)
        slow = np.array([1.0 / SLOWER if s.phase in RAMPS else 1.0 for s in segments])
        before = np.array(borders) + path
        return cls(before, np.concatenate(([0.0], np.cumsum(slow * np.diff(before)))))

    def place(self, web_m: np.ndarray) -> np.ndarray:
        """Where these pieces of web would have lain."""
        inside = np.interp(web_m, self.before_m, self.after_m)
        early = np.minimum(web_m - self.before_m[0], 0.0)
        late = np.maximum(web_m - self.before_m[-1], 0.0)
        result: np.ndarray = inside + early + late
        return result
