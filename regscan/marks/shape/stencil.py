"""Stencil: one mark's ink at quarter-pixel samples, for scenes of marks on each other.

The inside is kept as a yes-or-no mask; the samples that the outline crosses are
kept as a short list with the share of ink in each, because there several inks
may share a sample and because only there does anything change when a mark moves.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.layout import Shape
from regscan.marks.shape.outline import outline_length_px, outline_px
from regscan.marks.shape.raster import coverage, swelling

SAMPLES = 4  # per pixel and axis
_ROUNDING = 1e-5  # of a sample's ink: less changes only because numbers end


@dataclass(frozen=True)
class Stencil:
    """One mark at SAMPLES per pixel; its centre is `middle` samples from the corner.

    inside          rows x cols uint8, 1 where at least half a sample is ink.
    rows, cols      E samples near the outline.
    part            E float32, ink share minus the mask there.
    rates           3 x E float32, change of the ink share per px the mark is moved down the
                    rows, along the columns, and per px it grows all round.
    outline_px      length of the outline, in pixels of the mean size.
    """

    inside: np.ndarray
    middle: tuple[int, int]
    rows: np.ndarray
    cols: np.ndarray
    part: np.ndarray
    rates: np.ndarray
    outline_px: float


@lru_cache(maxsize=128)
def stencil(shape: Shape, camera: Camera, growth_px: float) -> Stencil:
    """The stencil of a shape as this camera sees it, grown by growth_px."""
    outline = outline_px(shape, camera, growth_px)
    reach = np.abs(np.concatenate(outline)).max(axis=0)
    half = tuple(math.ceil(r) + 1 for r in reach)
    corner = np.array(half, dtype=float)
    samples = tuple((polygon + corner) * SAMPLES for polygon in outline)
    ink = coverage(samples, 2 * half[0] * SAMPLES, 2 * half[1] * SAMPLES)
    swell = swelling(ink, outline, camera, SAMPLES)
    rows, cols = np.nonzero(swell > _ROUNDING)
    inside = (ink >= 0.5).astype(np.uint8)
    down, right = np.gradient(ink)
    # Sums over samples take many times as long in two precisions.
    part, *rates = (
        values[rows, cols].astype(np.float32)
        for values in (ink - inside, -SAMPLES * down, -SAMPLES * right, swell)
    )
    return Stencil(
        inside=inside,
        middle=(half[0] * SAMPLES, half[1] * SAMPLES),
        rows=rows,
        cols=cols,
        part=part,
        rates=np.stack(rates),
        outline_px=outline_length_px(outline, camera),
    )
