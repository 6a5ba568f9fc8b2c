"""Motion: what every station really did when it printed the marks of each frame."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regscan.job.job import AXES, Axis, Job
from regscan.simulator.chance import stream
from regscan.simulator.speed import SpeedProfile
from regscan.simulator.terms import Moments, Term
from regscan.simulator.truth import TrueOffset


@dataclass(frozen=True, slots=True)
class Injected:
    """One term at work on one station and axis.

    fault   True when an operator should be told of it.
    """

    station: int
    axis: Axis
    term: Term
    fault: bool = False


@dataclass(frozen=True, slots=True)
class Motion:
    """How a run's web moved, and what its stations did; seeded."""

    speed: SpeedProfile
    injected: tuple[Injected, ...] = ()
    seed: int = 0


def printing_moments(
    job: Job, speed: SpeedProfile, station: int, web_m: np.ndarray, camera: str = ""
) -> Moments:
    """When a station printed the marks that a camera sees after web_m metres.

    The mark in the frame is as old as the web path from its station to the camera
    is long, so a frame taken during a ramp shows marks printed at several speeds.
    """
    printed_m = np.asarray(web_m, dtype=float) - job.press.path_to_camera_m(station, camera)
    time_s = speed.time_at(printed_m)
    return Moments(time_s, printed_m, speed.speed_at(time_s), speed.direction_at(time_s))


def true_offsets(
    job: Job, motion: Motion, web_m: Sequence[float], camera: str = ""
) -> list[dict[str, TrueOffset]]:
    """For frames taken after web_m metres: how far every ink lies from its design place, mm."""
    places = np.asarray(web_m, dtype=float)
    frames: list[dict[str, TrueOffset]] = [{} for _ in places]
    for station in job.press.stations:
        moments = printing_moments(job, motion.speed, station.number, places, camera)
        both = [_along_run(motion, station.number, axis, moments) for axis in AXES]
        for frame, circumferential, lateral in zip(frames, *both, strict=True):
            frame[station.ink] = TrueOffset(float(circumferential), float(lateral))
    return frames


def _along_run(motion: Motion, station: int, axis: Axis, moments: Moments) -> np.ndarray:
    total = np.zeros(moments.web_m.shape)
    for number, injected in enumerate(motion.injected):
        if (injected.station, injected.axis) == (station, axis):
            total += injected.term.at(moments, stream(motion.seed, "motion", number))
    return total
