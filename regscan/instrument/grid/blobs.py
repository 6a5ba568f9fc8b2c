"""Blobs: everything round in a frame that could be a dot of the grid, coarsely."""

import math
from dataclasses import dataclass

import cv2
import numpy as np

_LEAST_AREA_PX = 12.0
_ROUND = 0.9  # area over that of the ellipse with the same spread: 1 for any ellipse
_LONGEST = 3.0  # longer than wide by this much is a scratch
_SIZES = 3.5  # dots of one grid differ by no more than this in area, even seen askew
_STANDS_OUT = 0.2  # of the frame's range of light, against the surroundings


@dataclass(frozen=True)
class Blobs:
    """N blobs.

    places   N x 2 (row, col) px, the centroid.
    spread   N x 3 px^2: variance of the blob's pixels along rows, along columns, covariance.
    dark     True for dark dots on light ground.
    """

    places: np.ndarray
    spread: np.ndarray
    dark: bool

    @property
    def radius_px(self) -> np.ndarray:
        """N radii of discs with the same area."""
        variance = self.spread[:, 0] * self.spread[:, 1] - self.spread[:, 2] ** 2
        return np.asarray(2.0 * np.sqrt(np.sqrt(np.maximum(variance, 0.0))))


def find_blobs(light: np.ndarray, *, dark: bool) -> Blobs:
    """Blobs of about the same size, whole in the frame.

    light   H x W float32.    dark   whether to look for dark or for light ones.
    """
    plane = light if dark else -light
    low, high = np.percentile(plane, [2.0, 98.0])
    around = _surroundings(plane)
    inked = (plane < around - _STANDS_OUT * (high - low)).astype(np.uint8)
    found = [blob for outline in _outlines(inked) if (blob := _blob(outline, plane.shape))]
    table = np.array(found).reshape(-1, 6)
    table = table[_alike(table[:, 0])]
    return Blobs(table[:, 1:3], table[:, 3:6], dark)


def _surroundings(plane: np.ndarray) -> np.ndarray:
    """Local mean over an eighth of the frame, wide enough to hold several dots."""
    side = max(min(plane.shape) // 8 * 2 + 1, 15)
    return np.asarray(cv2.blur(plane, (side, side), borderType=cv2.BORDER_REFLECT))


def _outlines(inked: np.ndarray) -> list[np.ndarray]:
    """Outer outlines of everything inked, holes filled."""
    outlines, tree = cv2.findContours(inked, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    if tree is None:
        return []
    return [outline for outline, node in zip(outlines, tree[0], strict=True) if node[3] < 0]


def _blob(outline: np.ndarray, size: tuple[int, ...]) -> tuple[float, ...] | None:
    """(area, row, col, row variance, col variance, covariance); None for what is no dot."""
    left, top, width, height = cv2.boundingRect(outline)
    if left < 1 or top < 1 or left + width > size[1] - 1 or top + height > size[0] - 1:
        return None
    moments = cv2.moments(outline)
    area = moments["m00"]
    if area < _LEAST_AREA_PX:
        return None
    rows, cols, both = (moments[name] / area for name in ("mu02", "mu20", "mu11"))
    det = rows * cols - both * both
    middle, half = (rows + cols) / 2.0, math.hypot((rows - cols) / 2.0, both)
    if det <= 0.0 or middle + half > _LONGEST**2 * (middle - half):
        return None
    if area < _ROUND * 4.0 * math.pi * math.sqrt(det):
        return None
    # The outline runs through the middles of the border's pixels: half a pixel all round more.
    more = (1.0 + 0.5 / (2.0 * math.sqrt(math.sqrt(det)))) ** 2
    place = moments["m01"] / area, moments["m10"] / area
    return area * more, *place, rows * more, cols * more, both * more


def _alike(areas: np.ndarray) -> np.ndarray:
    """Those of the size that most of the inked area comes in."""
    if not areas.size:
        return np.zeros(0, bool)
    order = np.argsort(areas)
    middle = areas[order][np.searchsorted(areas[order].cumsum(), areas.sum() / 2.0)]
    return np.asarray((areas > middle / _SIZES) & (areas < middle * _SIZES))
