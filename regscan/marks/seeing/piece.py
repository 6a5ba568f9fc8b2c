"""Piece: light in a part of the frame, read at any places."""

import math
from dataclasses import dataclass

import cv2
import numpy as np

_MOST = 30_000  # rows that OpenCV reads at once: it counts them in 16 bits


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of the frame: light as a share of white, evenly lit, and its top-left pixel.

    light      rows x cols x C float32.
    row, col   px of the frame.   pitch   px of the frame from one of its pixels to the next.
    """

    light: np.ndarray
    row: float
    col: float
    pitch: float = 1.0

    @staticmethod
    def of(light: np.ndarray, row: int, col: int) -> "Piece":
        """A piece of any float type."""
        return Piece(light.astype(np.float32), row, col)

    def at(self, rows: np.ndarray, cols: np.ndarray) -> np.ndarray:
        """K x L x C light at places (both K x L, px of the frame); NaN outside."""
        right, down = cols - self.col, rows - self.row
        if self.pitch != 1.0:
            right, down = right / self.pitch, down / self.pitch
        parts = [slice(start, start + _MOST) for start in range(0, max(len(rows), 1), _MOST)]
        light = [self._at(down[part], right[part]) for part in parts]
        return light[0] if len(light) == 1 else np.concatenate(light)

    def _at(self, down: np.ndarray, right: np.ndarray) -> np.ndarray:
        """Light at places in its own pixels, as many as can be read at once."""
        if not down.size:
            return np.zeros((*down.shape, self.light.shape[2]), np.float32)
        light = cv2.remap(
            self.light,
            right.astype(np.float32, copy=False),
            down.astype(np.float32, copy=False),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=(math.nan,) * 4,
        )
        return np.asarray(light).reshape(*down.shape, -1)
