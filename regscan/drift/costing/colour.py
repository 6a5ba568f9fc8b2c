"""One colour of a run with all that its cost is worked out from."""

from dataclasses import dataclass

import numpy as np

from regscan.drift.costing.outside import Outside, outside_of
from regscan.drift.drift import Drift, Track
from regscan.drift.frames import Frames
from regscan.drift.series import Series
from regscan.drift.stretches import Seen
from regscan.job.job import Job


@dataclass(frozen=True)
class Colour:
    """One series with all that is needed of it; shift_m: to the last camera."""

    series: Series
    seen: Seen
    track: Track
    of_segment: np.ndarray
    shift_m: float

    def outside(self) -> Outside:
        """What of it lies outside tolerance, as measured."""
        return outside_of(self.series, self.seen, self.shift_m)


def shift_m(job: Job, camera: str) -> float:
    """Web path from a camera to the last one; 0 for one the job does not know."""
    press = job.press
    try:
        own = press.path_to_camera_m(1, camera)
    except KeyError:
        return 0.0
    return max([own, *(press.path_to_camera_m(1, post.name) for post in press.cameras)]) - own


def shifts_m(frames: Frames, job: Job) -> np.ndarray:
    """shift_m of every frame's camera."""
    shifts = {name: shift_m(job, name) for name in set(frames.camera.tolist())}
    return np.array([shifts[name] for name in frames.camera.tolist()])


def whole(metres: float | None, drift: Drift) -> float | None:
    """Metres outside, where the metres of the run are known at all."""
    return None if drift.metres_total is None else metres
