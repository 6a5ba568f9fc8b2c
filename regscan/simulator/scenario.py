"""Scenario: a whole run to be drawn, frame by frame, with nothing left to chance."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.job import Job
from regscan.recording.frame import Frame
from regscan.simulator.chance import stream
from regscan.simulator.draw import draw_frame, mid_frame_origin
from regscan.simulator.frame_size import frame_size
from regscan.simulator.look import Look, Shot
from regscan.simulator.motion import Motion, group_mm, true_offsets
from regscan.simulator.press.faults.fault import Fault
from regscan.simulator.press.machine import GRIPPED, Metering
from regscan.simulator.truth import FrameTruth, TrueOffset

ImageKind = Literal["png", "jpg"]


@dataclass(frozen=True, slots=True)
class Wish:
    """What the caller of a scenario may choose.

    noise_grey   sd of the sensor's noise, grey levels of 255.
    image        "jpg" is stored at quality 95 with full colour resolution.
    faults       named causes; they take the place of the scenario's own misbehaviour.
    """

    frames: int
    seed: int = 1
    noise_grey: float = 1.2
    image: ImageKind = "png"
    faults: tuple[Fault, ...] = ()
    metering: Metering = GRIPPED


@dataclass(frozen=True, slots=True)
class Scenario:
    """A run that can be drawn: one shot and one set of true offsets per frame.

    offsets    per frame and ink, from the design place, mm.
    agree_mm   how well a measurement of a hold's level should agree with the truth.
    clock      False for a still frame whose time and speed nobody knows.
    """

    name: str
    job: Job
    camera: Camera
    look: Look
    motion: Motion
    shots: tuple[Shot, ...]
    offsets: tuple[dict[str, TrueOffset], ...]
    wish: Wish
    agree_mm: float
    clock: bool = True

    def drawn(self) -> Iterator[tuple[Frame, FrameTruth]]:
        """The frames one after the other."""
        return (self.frame(k) for k in range(len(self.shots)))

    def frame(self, index: int) -> tuple[Frame, FrameTruth]:
        """One frame and its truth; the same pixels every time."""
        return draw_frame(self.job, self.camera, self.offsets[index], self.look, self.shots[index])


def triggered_m(motion: Motion, frames: int, repeat_mm: float) -> np.ndarray:
    """Web metres of the frames, each on a whole number of repeats: evenly spread in time, or
    in web where a slow web would show one repeat twice."""
    even = np.linspace(0.0, motion.speed.duration_s, frames + 2)[1:-1]
    repeat_m = repeat_mm / 1000.0
    repeats = np.round(motion.speed.web_at(even) / repeat_m)
    if np.any(np.diff(repeats) == 0.0):
        last = motion.speed.web_at(np.array(motion.speed.duration_s)) / repeat_m
        repeats = np.round(np.linspace(0.0, last, frames + 2)[1:-1])
    return np.asarray(repeats * repeat_m)


def shots_of(
    job: Job, camera: Camera, motion: Motion, wish: Wish
) -> tuple[tuple[Shot, ...], tuple[dict[str, TrueOffset], ...]]:
    """The shots of every camera and web edge, frame after frame, and what they will show."""
    web = triggered_m(motion, wish.frames, job.press.repeat_mm)
    time = motion.speed.time_at(web)
    speeds = motion.speed.speed_at(time)
    views = _views(job)
    seen = {view: true_offsets(job, motion, web.tolist(), *view) for view in views}
    aside = group_mm(job, motion, web)
    shots: list[Shot] = []
    offsets: list[dict[str, TrueOffset]] = []
    for k in range(wish.frames):
        for name, edge in views:
            label = "_".join(part for part in (f"{k + 1:04d}", name, edge) if part)
            shot = Shot(
                name=f"{label}.{wish.image}",
                seed=frame_seed(wish.seed, len(shots)),
                index=len(shots),
                time_s=float(time[k]),
                web_m=float(web[k]),
                speed_m_min=float(speeds[k]),
                camera=name,
                edge=edge,
            )
            shots.append(_moved_on(placed(shot, job, camera), camera, float(aside[k])))
            offsets.append(seen[name, edge][k])
    return tuple(shots), tuple(offsets)


def frame_seed(seed: int, index: int) -> int:
    """An own seed for each frame of a run."""
    return int(np.random.SeedSequence([seed, index]).generate_state(1)[0])


def placed(shot: Shot, job: Job, camera: Camera, wander_mm: float = 0.04) -> Shot:
    """The shot in a frame that fits its marks: mid-frame, but for the wander of the trigger."""
    designs = job.marks_seen(shot.camera, shot.edge)
    rows, cols = frame_size(designs, camera, margin_mm=0.7)
    shot = replace(shot, rows=rows, cols=cols)
    row, col = mid_frame_origin(job, camera, shot)
    wander = np.clip(stream(shot.seed, "motion").standard_normal(2), -2.5, 2.5)
    by = wander * wander_mm / camera.mm_per_px
    return replace(shot, origin_px=(row + float(by[0]), col + float(by[1])))


def _moved_on(shot: Shot, camera: Camera, by_mm: float) -> Shot:
    """The shot with all its marks moved along the web."""
    if not by_mm or shot.origin_px is None:
        return shot
    here, there = camera.to_pixels(0.0, 0.0), camera.to_pixels(by_mm, 0.0)
    row, col = shot.origin_px
    return replace(shot, origin_px=(row + there[0] - here[0], col + there[1] - here[1]))


def _views(job: Job) -> list[tuple[str, str]]:
    """(camera, edge) of the frames taken at one moment."""
    views = []
    for name, own_edge in [(post.name, post.edge) for post in job.press.cameras] or [("", "")]:
        edges = sorted({mark.edge for mark in job.marks_seen(name)})
        views += [(name, own_edge or edge) for edge in edges or [""]]
    return views if len(views) > 1 else [("", "")]
