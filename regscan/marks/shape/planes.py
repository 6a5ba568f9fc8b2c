"""Planes: the picture of a mark, and what shift, blur and growth change of it.

Everything is drawn at sample pitch, PHASES samples a pixel, and already averaged over one
pixel: taking every PHASES-th sample is what the camera shows with the mark at that phase.
"""

import math
from collections.abc import Callable
from functools import lru_cache

import cv2
import numpy as np

from regscan.camera.camera import Camera
from regscan.job.layout import Shape
from regscan.marks.shape.outline import outline_px
from regscan.marks.shape.raster import coverage

PHASES = 4  # samples per pixel

_FADED = 4.0  # widths of a Gaussian, beyond which the library leaves it out
_ROOM = 2 * PHASES  # samples that averaging, growth and differences reach further

Softness = tuple[float, float]  # Gaussian width of the edge down rows and along columns, px
Dots = Callable[[tuple[int, ...], Softness], np.ndarray]  # samples (rows, columns) about a centre


@lru_cache(maxsize=32)
def filled(shape: Shape, camera: Camera, growth_px: float, half: tuple[int, int]) -> np.ndarray:
    """Ink share of every template sample; the mark's centre is half + 1 px from the border."""
    middle = np.array(half) + 1.0
    samples = tuple((p + middle) * PHASES for p in outline_px(shape, camera, growth_px))
    return coverage(samples, (2 * half[0] + 2) * PHASES, (2 * half[1] + 2) * PHASES)


def pixel_planes(
    ink: np.ndarray, growth: np.ndarray, softness: Softness, dots: Dots | None = None
) -> np.ndarray:
    """6 x rows x cols float32 at sample pitch, already averaged over one pixel: see
    Template.design for what they are.

    growth   what growth changes of the ink, see `swelling`.
    dots     ink that a tint would have about the centre without its outline; None for a solid.
    """
    planes, part = np.zeros((6, *ink.shape), np.float32), reached(ink, softness)
    _draw(planes[:, *part], ink[part], growth[part], softness, dots)
    return planes


def reached(ink: np.ndarray, softness: Softness) -> tuple[slice, slice]:
    """The samples that a softened edge of the ink, moved by a little, can reach, as far on one
    side of the middle as on the other: all else is paper."""
    parts = []
    for axis, width in enumerate(softness):
        half = ink.shape[axis] // 2
        some = np.flatnonzero(ink.any(axis=1 - axis))
        far = int(np.abs(some - half).max(initial=0)) + math.ceil(_FADED * width * PHASES) + _ROOM
        parts.append(slice(max(half - far, 0), half + far))
    return parts[0], parts[1]


def _draw(
    planes: np.ndarray,
    ink: np.ndarray,
    growth: np.ndarray,
    softness: Softness,
    dots: Dots | None,
) -> None:
    """Fill in the planes."""
    if dots is None:
        soft, grown = (_as_seen(plane, softness) for plane in (ink, growth))
        for axis in (0, 1):
            _slope(soft, axis, planes[1 + axis])
            _bend(soft, axis, planes[3 + axis])
    else:
        screen = dots(ink.shape, softness)
        soft, grown = (_as_seen(plane * screen, softness) for plane in (ink, growth))
        for axis in (0, 1):
            cut, own, inside = (np.empty_like(soft) for _ in range(3))
            _slope(ink, axis, cut)
            planes[1 + axis] = _as_seen(cut * screen, softness)
            # Inside, dots are drawn as they are seen: a softer outline leaves them so.
            _bend(soft, axis, own)
            _bend(screen, axis, inside)
            planes[3 + axis] = own - _as_seen(ink * inside, softness)
    planes[0], planes[5] = soft, grown
    # The sign: a centre moved by + 1 px takes the picture with it.
    planes[1:3] *= -PHASES
    planes[3:5] *= PHASES**2 / 2.0


def facing_plane(ink: np.ndarray, along: tuple[float, float], softness: Softness) -> np.ndarray:
    """The edges that face along (a step of 1 px, rows and columns), as a shift of 1 px changes
    them; rows x cols float32 like those above.

    Sorted before they are softened: where two edges meet at a corner, one facing along and one
    away, softness mixes their changes, and what is left of the sum is neither's.
    """
    plane, part = np.zeros(ink.shape, np.float32), reached(ink, softness)
    slopes = np.empty((2, *ink[part].shape), np.float32)
    for axis in (0, 1):
        _slope(ink[part], axis, slopes[axis])
    facing = np.maximum(-PHASES * (along[0] * slopes[0] + along[1] * slopes[1]), 0.0)
    plane[part] = _as_seen(facing, softness)
    return plane


def _slope(plane: np.ndarray, axis: int, out: np.ndarray) -> None:
    """Change from sample to sample along an axis, from both neighbours."""
    _filtered(plane, axis, (-0.5, 0.0, 0.5), out)


def _bend(plane: np.ndarray, axis: int, out: np.ndarray) -> None:
    """Second difference along an axis."""
    _filtered(plane, axis, (1.0, -2.0, 1.0), out)


def _filtered(plane: np.ndarray, axis: int, row: tuple[float, ...], out: np.ndarray) -> None:
    kernel = np.array([row], np.float32)
    cv2.filter2D(plane, -1, kernel if axis else kernel.T, dst=out, borderType=cv2.BORDER_REPLICATE)


def _as_seen(plane: np.ndarray, softness: Softness) -> np.ndarray:
    soft = cv2.GaussianBlur(
        plane,
        (0, 0),
        sigmaX=softness[1] * PHASES,
        sigmaY=softness[0] * PHASES,
        borderType=cv2.BORDER_REPLICATE,
    )
    # Sample k now holds the mean of samples k .. k + PHASES - 1: one whole pixel.
    return np.asarray(
        cv2.boxFilter(soft, -1, (PHASES, PHASES), anchor=(0, 0), borderType=cv2.BORDER_REPLICATE)
    )


def softening_of(planes: np.ndarray) -> np.ndarray:
    """A softer edge answers less to a shift: by how much, per px^2 of blur variance."""
    change = np.empty((2, 2))
    for k, shift in enumerate(planes[1:3]):
        for axis in (0, 1):
            bent = np.diff(
                np.pad(shift, 1)[:, 1:-1] if axis == 0 else np.pad(shift, 1)[1:-1], 2, axis
            )
            # No slope at all: a tint whose outline lies between its dots.
            slopes = float((shift * shift).sum()) or 1.0
            change[k, axis] = float((bent * shift).sum()) / (2.0 * slopes)
    return change
