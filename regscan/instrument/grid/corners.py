"""Corners: where four squares of a chessboard meet, coarsely and then to a small part of a pixel.

The board need not be whole in the frame, nor its size known: corners are found one by
one, and the lattice sorts them. The fine place is OpenCV's corner refinement.
"""

import cv2
import numpy as np

_SOFT_PX = 2.0  # smoothing before saddles are looked for
_APART_PX = 5
_LEAST = 0.04  # of the strongest saddles
_RING_PX = 6.0
_POINTS = 48
_LOOKS_AT = 0.3  # of a square's side: half the window of the refinement
_STEPS = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 60, 1e-4)


def find_corners(light: np.ndarray) -> np.ndarray:
    """N x 2 (row, col) px, whole pixels: saddles of light with two dark and two light sides."""
    soft = cv2.GaussianBlur(light, (0, 0), _SOFT_PX)
    rows = cv2.Sobel(soft, cv2.CV_32F, 0, 2)
    cols = cv2.Sobel(soft, cv2.CV_32F, 2, 0)
    both = cv2.Sobel(soft, cv2.CV_32F, 1, 1)
    saddle = both * both - rows * cols
    side = 2 * _APART_PX + 1
    peak = saddle >= cv2.dilate(saddle, np.ones((side, side), np.uint8))
    peak &= saddle > _LEAST * float(np.percentile(saddle[peak], 98.0))
    found = np.argwhere(peak)
    room = int(_RING_PX) + 2
    inside = (found >= room).all(axis=1) & (found < np.array(light.shape) - room).all(axis=1)
    return np.array([p for p in found[inside] if _crosses(soft, p)], float).reshape(-1, 2)


def _crosses(soft: np.ndarray, place: np.ndarray) -> bool:
    """True where light changes four times round the place, in even quarters."""
    turns = np.linspace(0.0, 2.0 * np.pi, _POINTS, endpoint=False)
    rows = np.rint(place[0] + _RING_PX * np.sin(turns)).astype(int)
    cols = np.rint(place[1] + _RING_PX * np.cos(turns)).astype(int)
    ring = soft[rows, cols]
    low, high = float(ring.min()), float(ring.max())
    bright = ring > (low + high) / 2.0
    changes = np.flatnonzero(bright != np.roll(bright, 1))
    if len(changes) != 4:
        return False
    quarters = np.diff(np.append(changes, changes[0] + _POINTS))
    even = np.abs(quarters - np.roll(quarters, 2)).max() <= _POINTS / 12
    return bool(even and quarters.min() >= _POINTS / 10)


def refine_corners(light: np.ndarray, corners: np.ndarray, pitch_px: float) -> np.ndarray:
    """The corners to a small part of a pixel; NaN where the refinement walks away.

    pitch_px   side of a square: the refinement looks at no more than the four beside a corner.
    """
    half = int(np.clip(_LOOKS_AT * pitch_px, 3, 11))
    # In square-root light noise is about even, dark or light; a saddle stays where it is.
    plane = np.ascontiguousarray(np.sqrt(np.maximum(light, 0.0)), np.float32)
    start = np.ascontiguousarray(corners[:, ::-1], np.float32).reshape(-1, 1, 2)
    moved = cv2.cornerSubPix(plane, start, (half, half), (-1, -1), _STEPS)
    places = moved.reshape(-1, 2)[:, ::-1].astype(float)
    walked = np.linalg.norm(places - corners, axis=1) > max(2.5, 0.15 * pitch_px)
    places[walked] = np.nan
    return places
