"""One ink's pixels as one number each, along the colour direction in which it stands out."""

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np

from regscan.camera.camera import Tone
from regscan.marks.fitting.reading import Patch
from regscan.marks.seeing.light import code_slope, looked_up, to_light


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of the frame: its codes, h x w x C integers, and one ink's patch of it."""

    codes: np.ndarray
    patch: Patch


def ink_piece(
    codes: np.ndarray,
    direction: np.ndarray,
    tone: Tone,
    usable: np.ndarray,
    corner: tuple[int, int],
) -> Piece:
    """What a fit reads, from a piece of the frame's planes.

    codes   h x w x C integers.   usable   h x w bool.   corner   its place (row, col).
    """
    full_scale = int(np.iinfo(codes.dtype).max)
    light = cv2.transform(to_light(codes, tone, full_scale), direction[None])
    if tone == "linear":
        return Piece(codes, Patch(light, usable.astype(np.float32), *corner))
    # Noise of the weighted sum, from the local mean code so that a pixel's own noise
    # does not choose its weight.
    local = cv2.blur(codes, (5, 5)).reshape(codes.shape)
    spread = looked_up(_light_variance(tone, full_scale), local)
    variance = cv2.transform(spread, direction[None] ** 2)
    weight = np.divide(variance.min(), variance, out=variance)
    if not usable.all():
        weight *= usable
    return Piece(codes, Patch(light, weight, *corner))


@lru_cache(maxsize=4)
def _light_variance(tone: Tone, full_scale: int) -> np.ndarray:
    """Variance of light per variance of code, for every code."""
    light = to_light(np.arange(full_scale + 1), tone, full_scale)
    return np.asarray(1.0 / code_slope(light, tone) ** 2, np.float32)
