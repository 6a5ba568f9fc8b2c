"""Illumination: uneven light over the frame as one factor per pixel.

Slope, vignetting and grain are asked for in grey levels of the bare substrate;
a streak is the lamp's own image on a shining substrate, as a share of its light.
"""

import math
from collections.abc import Sequence

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.job import Job
from regscan.simulator.chance import smooth_field, stream
from regscan.simulator.ink import light_of
from regscan.simulator.lens import uneven_grey
from regscan.simulator.look import Look, Shot, Streak
from regscan.simulator.sensor import decoded, encoded


def illumination(job: Job, camera: Camera, look: Look, shot: Shot) -> np.ndarray:
    """Factor on linear light, rows x cols (1 x 1 for even light)."""
    return shading(light_of(job.substrate, "substrate", job)[1], camera, look, shot)


def shading(bare: float, camera: Camera, look: Look, shot: Shot) -> np.ndarray:
    """The same for a substrate of this light, 0..1, in the green channel."""
    lit = _uneven(bare, camera, look, shot)
    if not look.streaks:
        return lit
    bright = _streaked(look.streaks, camera, shot)
    return np.asarray(lit * bright, dtype=np.float32)


def _uneven(bare: float, camera: Camera, look: Look, shot: Shot) -> np.ndarray:
    """Such that the bare substrate changes by the grey levels the look asks for."""
    wanted = uneven_grey(look.lens, shot.rows, shot.cols)
    if look.grain_grey > 0.0:
        length = look.grain_um / 1000.0 / camera.mm_per_px
        rng = stream(shot.seed, "grain")
        wanted = wanted + look.grain_grey * smooth_field((shot.rows, shot.cols), length, rng)
    if not np.any(wanted):
        return np.ones((1, 1), dtype=np.float32)
    green = bare * look.sensor.exposure
    middle = encoded(np.full((1, 1), green, dtype=np.float32), camera.tone)[0, 0]
    lit = np.clip(middle + wanted / 255.0, 0.0, None)
    return np.asarray(decoded(lit, camera.tone) / green, dtype=np.float32)


def _streaked(streaks: Sequence[Streak], camera: Camera, shot: Shot) -> np.ndarray:
    rows = (np.arange(shot.rows) - (shot.rows - 1) / 2.0)[:, None]
    cols = (np.arange(shot.cols) - (shot.cols - 1) / 2.0)[None, :]
    bright = np.ones((shot.rows, shot.cols))
    for streak in streaks:
        turn = math.radians(streak.turn_deg)
        aside_px = rows * math.cos(turn) - cols * math.sin(turn)
        from_line = aside_px * camera.mm_per_px - streak.aside_mm
        bright += streak.gain * np.exp(-0.5 * (from_line / streak.width_mm) ** 2)
    return bright
