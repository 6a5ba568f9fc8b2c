"""Scene: several inks' marks printed on, against or near each other, drawn as one.

At quarter-pixel samples every place holds a set of inks and so one colour; the
optics then soften the whole. Each distinct set's share of every pixel is one
linear part of the picture, its colour the factor; how the picture changes when
one mark moves follows from the two colours on either side of its outline.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from regscan.marks.stencil import SAMPLES, Stencil

_HALVES = 2  # samples per pixel at which the optics' softness is applied


@dataclass(frozen=True, slots=True)
class Window:
    """The pixels a scene covers: top-left corner and size."""

    row: int
    col: int
    rows: int
    cols: int


@dataclass(frozen=True)
class Placed:
    """One mark in a scene: its ink's bit, its stencil, and where its corner sample lies."""

    bit: int
    stencil: Stencil
    corner: tuple[int, int]

    @staticmethod
    def at(bit: int, stencil: Stencil, place: tuple[float, float], window: Window) -> "Placed":
        """The mark put at the nearest quarter pixel to a place (row, col) px of the frame."""
        row = round((place[0] - window.row + 0.5) * SAMPLES) - stencil.middle[0]
        col = round((place[1] - window.col + 0.5) * SAMPLES) - stencil.middle[1]
        return Placed(bit, stencil, (row, col))

    def place(self, window: Window) -> tuple[float, float]:
        """Where that put its centre, (row, col) px of the frame."""
        return (
            (self.corner[0] + self.stencil.middle[0]) / SAMPLES + window.row - 0.5,
            (self.corner[1] + self.stencil.middle[1]) / SAMPLES + window.col - 0.5,
        )


class Scene:
    """Marks put into a window. Pictures are rows x cols (x C) float32 at pixel pitch.

    sets      the ink sets (bits) that occur, largest area first; 0 is bare substrate.
    shares    one picture per set: its share of every pixel; they add up to 1.
    """

    def __init__(
        self, marks: Sequence[Placed], window: Window, softness_px: tuple[float, float]
    ) -> None:
        self.window, self._softness = window, softness_px
        self._labels = np.zeros((window.rows * SAMPLES, window.cols * SAMPLES), np.uint8)
        self._edges = [self._lay(mark) for mark in marks]
        counts = np.bincount(self._labels.ravel(), minlength=256)
        self.sets = [int(bits) for bits in np.argsort(-counts) if counts[bits]]
        self._beside = [
            self._around(mark, edge) for mark, edge in zip(marks, self._edges, strict=True)
        ]
        for without, with_ink in self._beside:
            for bits in _occurring(without) + _occurring(with_ink):
                if bits not in self.sets:
                    self.sets.append(bits)
        self._marks = marks
        self.shares = self._shares()

    def _lay(self, mark: Placed) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Paint a mark's mask; return its edge samples within the window (rows, cols, which)."""
        rows, cols = self._labels.shape
        top, left = mark.corner
        height, width = mark.stencil.inside.shape
        y0, y1 = max(top, 0), min(top + height, rows)
        x0, x1 = max(left, 0), min(left + width, cols)
        if y0 < y1 and x0 < x1:
            piece = mark.stencil.inside[y0 - top : y1 - top, x0 - left : x1 - left]
            self._labels[y0:y1, x0:x1] |= piece << mark.bit
        edge_rows, edge_cols = mark.stencil.rows + top, mark.stencil.cols + left
        within = (edge_rows >= 0) & (edge_rows < rows) & (edge_cols >= 0) & (edge_cols < cols)
        return edge_rows[within], edge_cols[within], np.flatnonzero(within)

    def _around(
        self, mark: Placed, edge: tuple[np.ndarray, np.ndarray, np.ndarray]
    ) -> tuple[np.ndarray, np.ndarray]:
        """The ink sets at a mark's edge samples without and with its ink."""
        labels = self._labels[edge[0], edge[1]]
        bit = np.uint8(1 << mark.bit)
        return labels & ~bit, labels | bit

    def _shares(self) -> list[np.ndarray]:
        planes = {bits: (self._labels == bits).astype(np.float32) for bits in self.sets}
        for mark, edge, (_, with_ink) in zip(self._marks, self._edges, self._beside, strict=True):
            part = mark.stencil.part[edge[2]]
            for bits in _occurring(with_ink):
                here = with_ink == bits
                rows, cols = edge[0][here], edge[1][here]
                planes[bits][rows, cols] += part[here]
                planes[bits & ~(1 << mark.bit)][rows, cols] -= part[here]
        return [self._soften(plane) for plane in planes.values()]

    def _soften(self, plane: np.ndarray) -> np.ndarray:
        """From samples to pixels: through the optics, averaged over each pixel."""
        rows, cols = self.window.rows, self.window.cols
        size = (cols * _HALVES, rows * _HALVES)
        half = cv2.resize(plane, size, interpolation=cv2.INTER_AREA)
        soft = cv2.GaussianBlur(
            half,
            (0, 0),
            sigmaX=self._softness[1] * _HALVES,
            sigmaY=self._softness[0] * _HALVES,
            borderType=cv2.BORDER_REPLICATE,
        )
        return np.asarray(cv2.resize(soft, (cols, rows), interpolation=cv2.INTER_AREA))

    @property
    def count(self) -> int:
        """How many marks it holds."""
        return len(self._marks)

    def felt(self) -> np.ndarray:
        """rows x cols bool: pixels near enough to an outline to change when a mark moves."""
        near = np.zeros((self.window.rows, self.window.cols), np.uint8)
        for rows, cols, _ in self._edges:
            near[rows // SAMPLES, cols // SAMPLES] = 1
        reach = [2 * math.ceil(2.5 * width + 0.5) + 1 for width in self._softness]
        return np.asarray(cv2.dilate(near, np.ones(reach, np.uint8)) > 0)

    def sides(self, number: int) -> list[tuple[int, int, int]]:
        """(set without, set with the mark's ink, samples) along a mark's outline."""
        without, _ = self._beside[number]
        counts = np.bincount(without, minlength=256)
        bit = 1 << self._marks[number].bit
        return [(bits, bits | bit, int(counts[bits])) for bits in _occurring(without)]

    def picture(self, colours: np.ndarray) -> np.ndarray:
        """rows x cols x C with colours[s] (S x C) for sets[s]."""
        shares = np.stack(self.shares, axis=-1)
        return np.asarray(shares @ colours.astype(np.float32))

    def changes(self, number: int, colours: np.ndarray) -> np.ndarray:
        """3 x rows x cols x C: how the picture changes per px that mark `number` moves
        down the rows, along the columns, and grows all round."""
        mark, edge = self._marks[number], self._edges[number]
        without, with_ink = self._beside[number]
        lookup = np.zeros((256, colours.shape[1]))
        lookup[self.sets] = colours
        contrast = ((lookup[with_ink] - lookup[without]) / SAMPLES**2).T
        rows, cols = self.window.rows, self.window.cols
        index = (edge[0] // SAMPLES) * cols + edge[1] // SAMPLES
        stencil = mark.stencil
        result = []
        for rate in (stencil.along_row, stencil.along_col, stencil.growth):
            own = rate[edge[2]]
            planes = [
                np.bincount(index, own * step, rows * cols).reshape(rows, cols) for step in contrast
            ]
            # Softened at pixel pitch: good enough to know which way to step, and how far.
            soft = cv2.GaussianBlur(
                np.stack(planes, axis=-1).astype(np.float32),
                (0, 0),
                sigmaX=self._softness[1],
                sigmaY=self._softness[0],
                borderType=cv2.BORDER_REPLICATE,
            )
            result.append(soft.reshape(rows, cols, -1))
        return np.stack(result)


def _occurring(labels: np.ndarray) -> list[int]:
    """The distinct values of a uint8 array; counting them is far quicker than sorting."""
    return [int(bits) for bits in np.flatnonzero(np.bincount(labels, minlength=1))]
