"""Motion: what every station really did when it printed the marks of each frame."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regscan.job.job import AXES, Axis, Job
from regscan.simulator.chance import stream
from regscan.simulator.press.effects import GroupTerm
from regscan.simulator.press.faults.fault import Fault
from regscan.simulator.press.machine import GRIPPED, Metering, machine_of
from regscan.simulator.press.passage import passage
from regscan.simulator.press.register import frames_at, register_of
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
    """How a run's web moved, and what its stations did; seeded.

    injected   terms of single stations; faults   named causes, worked out by the press model.
    """

    speed: SpeedProfile
    injected: tuple[Injected, ...] = ()
    seed: int = 0
    faults: tuple[Fault, ...] = ()
    metering: Metering = GRIPPED


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
    job: Job, motion: Motion, web_m: Sequence[float], camera: str = "", edge: str = ""
) -> list[dict[str, TrueOffset]]:
    """For frames taken after web_m metres: how far every ink lies from its design place, mm.

    edge   the web edge whose marks are meant; "" is mid-web.
    """
    places = np.asarray(web_m, dtype=float)
    frames: list[dict[str, TrueOffset]] = [{} for _ in places]
    pressed = _by_faults(job, motion, places, camera, edge)
    for station in job.press.stations:
        moments = printing_moments(job, motion.speed, station.number, places, camera)
        both = [_along_run(motion, station.number, axis, moments) for axis in AXES]
        if pressed:
            own = station.number - 1
            both = [term + by[own] / 1000.0 for term, by in zip(both, pressed, strict=True)]
        for frame, circumferential, lateral in zip(frames, *both, strict=True):
            frame[station.ink] = TrueOffset(float(circumferential), float(lateral))
    return frames


def _along_run(motion: Motion, station: int, axis: Axis, moments: Moments) -> np.ndarray:
    total = np.zeros(moments.web_m.shape)
    for number, injected in enumerate(motion.injected):
        if (injected.station, injected.axis) == (station, axis):
            total += injected.term.at(moments, stream(motion.seed, "motion", number))
    return total


def _by_faults(
    job: Job, motion: Motion, places: np.ndarray, camera: str, edge: str
) -> tuple[np.ndarray, np.ndarray] | None:
    """(circumferential, lateral) um of the press model, stations x frames; None without faults."""
    if not motion.faults:
        return None
    machine = machine_of(job, motion.metering)
    effects = [effect for fault in motion.faults for effect in fault.effects(machine)]
    frames = frames_at(machine, places, camera)
    return register_of(machine, motion.speed, effects, frames).at_edge(edge)


def group_mm(job: Job, motion: Motion, web_m: np.ndarray) -> np.ndarray:
    """How far all marks of a frame lie off together along the web, mm; + is toward the unwind."""
    machine = machine_of(job, motion.metering)
    seen = passage(motion.speed, web_m)
    moved = np.zeros(seen.web_m.shape)
    for fault in motion.faults:
        for effect in fault.effects(machine):
            if isinstance(effect, GroupTerm):
                moved += effect.signal.at(seen) / 1000.0
    return moved
