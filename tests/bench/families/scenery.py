"""Scenery: the camera, lens, light and print that every family starts from."""

from dataclasses import replace

import numpy as np

from bench.families.case import Case, Draw, Offsets
from bench.families.stock import as_printed, offsets_within
from regscan.camera.camera import Camera
from regscan.job.job import Job
from regscan.simulator.draw import mid_frame_origin
from regscan.simulator.look import Lens, Look, Overprint, Print, Sensor, Shot
from regscan.simulator.printed import Scene

SIZE = (800, 1024)
_WAYS = (
    ("up", "right"),
    ("up", "left"),
    ("down", "right"),
    ("down", "left"),
    ("left", "up"),
    ("left", "down"),
    ("right", "up"),
    ("right", "down"),
)


def camera_of(rng: np.random.Generator, mm_per_px: float | None = None) -> Camera:
    """A camera mounted any way round, turned by up to 1.5 degrees."""
    travel, drive = _WAYS[int(rng.integers(len(_WAYS)))]
    size = mm_per_px or float(rng.uniform(0.0095, 0.0135))
    return Camera(size, size, travel, drive, float(rng.uniform(-1.5, 1.5)))


def usual_look(rng: np.random.Generator, *, rough_um: float = 2.0) -> Look:
    """A decent frame of a decent print."""
    return Look(
        print=Print(
            roughness_um=rough_um,
            roughness_length_um=float(rng.uniform(30.0, 60.0)),
            gain_um=float(rng.uniform(0.0, 8.0)),
        ),
        lens=Lens(
            blur_px=float(rng.uniform(0.8, 1.4)),
            slope_grey=float(rng.uniform(0.0, 15.0)),
            slope_deg=float(rng.uniform(0.0, 360.0)),
            vignette_grey=float(rng.uniform(0.0, 8.0)),
        ),
        sensor=Sensor(noise_grey=float(rng.uniform(1.0, 3.0))),
    )


def case_of(
    draw: Draw,
    told: Job,
    *,
    look: Look,
    camera: Camera | None = None,
    offsets: Offsets | None = None,
    printed: Job | None = None,
    over: tuple[Overprint, ...] = (),
    wander_mm: float = 0.4,
) -> Case:
    """A case with whatever is not named left to chance: a little of everything."""
    camera = camera or camera_of(draw.lasting)
    printed = printed or as_printed(told, draw.any)
    offsets = offsets if offsets is not None else offsets_within(told, draw.any, 0.15)
    shot = Shot(*SIZE, seed=draw.seed, name=f"{draw.number:04d}", index=draw.number)
    row, col = mid_frame_origin(told, camera, shot)
    by = draw.any.uniform(-wander_mm, wander_mm, 2) / camera.mm_per_px
    shot = replace(shot, origin_px=(row + float(by[0]), col + float(by[1])))
    if over:
        look = replace(look, overprints=over)
    return Case(told, Scene(printed, camera, look, shot), offsets)
