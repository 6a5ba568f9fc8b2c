"""What the waste would have been: with the moves made, with slower ramps."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from regscan.drift.cost import WhatIf
from regscan.drift.costing.colour import Colour, shifts_m, whole
from regscan.drift.costing.outside import as_if, frames_of, metres_of, outside_of
from regscan.drift.costing.slower import RAMPS, SLOWER, with_slower_ramps
from regscan.drift.drift import Drift, Segment
from regscan.drift.frames import Frames
from regscan.job.job import Axis, Job

Moves = Mapping[tuple[str, Axis], float | None]  # mm, by ink and axis; None: not measured

AS_MOVED = "every advised move made before the run, exactly and the same at every speed"
NO_MOVES = "no move is advised, so nothing changes"
AS_SLOWER = (
    "every ramp at half its rate, speeds and holds as they were: what goes with acceleration"
    " halves, what goes with speed stays and is printed for twice the metres"
)
NO_METRES = "web positions are not known"


def if_moved(colours: list[Colour], moves: Moves, drift: Drift) -> WhatIf:
    """The waste with every advised move made before the run."""
    if not any(colour.track.settled for colour in colours):
        return WhatIf("advised moves", AS_MOVED, None, None, "nothing settled, so no move is known")
    found = []
    for colour in colours:
        move = moves.get((colour.series.ink, colour.series.axis)) or 0.0
        seen = as_if(colour.series, colour.seen, colour.seen.value_mm + move, colour.seen.web_m)
        found.append(outside_of(colour.series, seen, colour.shift_m))
    assumption = AS_MOVED if any(moves.values()) else NO_MOVES
    return WhatIf("advised moves", assumption, whole(metres_of(found), drift), frames_of(found))


def if_slowed(colours: list[Colour], drift: Drift, frames: Frames, job: Job) -> WhatIf:
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
        shift = float(shifts_m(frames, job)[0])
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
