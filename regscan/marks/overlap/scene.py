"""Scene: several inks' marks printed on, against or near each other, drawn as one.

At quarter-pixel samples every place holds a set of inks and so one colour; the
optics then soften the whole. Each distinct set's share of every pixel is one
linear part of the picture, its colour the factor (for how the picture changes
when a mark moves see rates). Sets and marks are drawn only where they reach, so
that a wide scene of small marks costs no more than the marks.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, reduce

import cv2
import numpy as np

from regscan.marks.shape.stencil import SAMPLES, Stencil

_HALVES = 2  # samples per pixel at which the optics' softness is applied
_COARSER = SAMPLES // _HALVES
_WHOLE = 252  # a full sample in bytes: the mean of any four is then exact
_TAILS = 3.0  # of the softness on either side: beyond lies 1/400 of the light
_FELT = 2.0  # of the softness from an outline: beyond lies 1/200 of what tells its place
_ALL = slice(None)


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


@dataclass(frozen=True, slots=True)
class Piece:
    """Pixels of a window, from a corner (inclusive) to another (exclusive)."""

    top: int
    left: int
    bottom: int
    right: int

    def common(self, other: "Piece") -> "Piece":
        """The pixels of both; none where bottom <= top or right <= left."""
        return Piece(
            max(self.top, other.top),
            max(self.left, other.left),
            min(self.bottom, other.bottom),
            min(self.right, other.right),
        )

    def hull(self, other: "Piece") -> "Piece":
        """The smallest piece with the pixels of both."""
        return Piece(
            min(self.top, other.top),
            min(self.left, other.left),
            max(self.bottom, other.bottom),
            max(self.right, other.right),
        )

    def widened(self, rows: int, cols: int) -> "Piece":
        """Larger by so much on every side."""
        return Piece(self.top - rows, self.left - cols, self.bottom + rows, self.right + cols)

    @property
    def empty(self) -> bool:
        """Whether it holds no pixel."""
        return self.bottom <= self.top or self.right <= self.left

    @property
    def slices(self) -> tuple[slice, slice]:
        """For indexing the window's pixels."""
        return slice(self.top, self.bottom), slice(self.left, self.right)

    def samples(self, per_px: int) -> tuple[slice, slice]:
        """The same of the window's samples."""
        return (
            slice(self.top * per_px, self.bottom * per_px),
            slice(self.left * per_px, self.right * per_px),
        )


@dataclass(frozen=True, slots=True)
class Edge:
    """A mark's edge samples within the window, those of one set together.

    rows, cols   E, their places.   which   which of the stencil's they are.
    sets         E, the set with the mark's ink at each.
    runs         (such a set, slice of the samples) of every set.
    cut          whether the mark goes on beyond the window.
    """

    rows: np.ndarray
    cols: np.ndarray
    which: np.ndarray | slice
    sets: np.ndarray
    runs: tuple[tuple[int, slice], ...]
    cut: bool


@dataclass(frozen=True, slots=True)
class Sides:
    """Runs of marks' outlines, of every mark those with one pair of sets: which mark's, the number
    in `Scene.sets` of that without and of that with its ink, and how many samples."""

    marks: np.ndarray
    without: np.ndarray
    with_ink: np.ndarray
    samples: np.ndarray


@dataclass(frozen=True, slots=True)
class _Part:
    """What outlines hold of one set beyond the yes or no of their masks: shares of half pixels,
    their rows and cols in the window, and the pixels they all lie in."""

    rows: np.ndarray
    cols: np.ndarray
    shares: np.ndarray
    piece: Piece


class Scene:
    """Marks put into a window.

    marks     as they were put.   softness_px   (row, col) width of the optics, one sigma.
    edges     of every mark.   reaches   the pixels that each mark's softened picture touches.
    sets      the S ink sets (bits) that occur; the first is 0, bare substrate.
    shares    S x rows x cols float32 at pixel pitch: each set's share of every pixel; they
              add up to 1.
    """

    def __init__(
        self, marks: Sequence[Placed], window: Window, softness_px: tuple[float, float]
    ) -> None:
        self.window, self.softness_px, self.marks = window, softness_px, marks
        self._whole = Piece(0, 0, window.rows, window.cols)
        most = max((1 << mark.bit for mark in marks), default=1)
        self._labels = np.zeros(
            (window.rows * SAMPLES, window.cols * SAMPLES), np.min_scalar_type(2 * most - 1)
        )
        for mark in marks:
            self._lay(mark)
        self.edges = [self._edge(mark) for mark in marks]
        self.reaches = [self._reach(mark) for mark in marks]
        # Every set's region ends at some outline, unless none lies within the window.
        self.sets = sorted(
            {0, int(self._labels[0, 0])}.union(
                *({bits, bits & ~(1 << mark.bit)} for mark, bits in self._with_sets())
            )
        )
        self.shares = self._shares()

    def _with_sets(self) -> Iterator[tuple[Placed, int]]:
        for mark, edge in zip(self.marks, self.edges, strict=True):
            yield from ((mark, bits) for bits, _ in edge.runs)

    def _lay(self, mark: Placed) -> None:
        """Paint a mark's mask."""
        rows, cols = self._labels.shape
        top, left = mark.corner
        height, width = mark.stencil.inside.shape
        y0, y1 = max(top, 0), min(top + height, rows)
        x0, x1 = max(left, 0), min(left + width, cols)
        if y0 < y1 and x0 < x1:
            piece = mark.stencil.inside[y0 - top : y1 - top, x0 - left : x1 - left]
            self._labels[y0:y1, x0:x1] |= np.left_shift(piece, mark.bit, dtype=self._labels.dtype)

    def _bit(self, mark: Placed) -> np.unsignedinteger:
        """A mark's ink as a set among labels."""
        return self._labels.dtype.type(1 << mark.bit)

    def _edge(self, mark: Placed) -> Edge:
        """A mark's edge samples, once all masks are painted."""
        height, width = self._labels.shape
        (top, left), (down, right) = mark.corner, mark.stencil.inside.shape
        rows, cols = mark.stencil.rows + top, mark.stencil.cols + left
        which: np.ndarray | slice = _ALL
        cut = min(top, left) < 0 or top + down > height or left + right > width
        if cut:
            which = np.flatnonzero((rows >= 0) & (rows < height) & (cols >= 0) & (cols < width))
            rows, cols = rows[which], cols[which]
        with_ink = self._labels.ravel().take(rows * width + cols) | self._bit(mark)
        counts = np.bincount(with_ink)
        sets = np.flatnonzero(counts).tolist()
        if len(sets) > 1:
            order = np.argsort(with_ink, kind="stable")
            rows, cols, with_ink = rows[order], cols[order], with_ink[order]
            which = order if which is _ALL else np.asarray(which)[order]
        ends = [0, *np.cumsum(counts).tolist()]
        runs = tuple((bits, slice(ends[bits], ends[bits + 1])) for bits in sets)
        return Edge(rows, cols, which, with_ink, runs, cut)

    def _reach(self, mark: Placed) -> Piece:
        """The pixels that a mark's softened picture touches."""
        top, left = mark.corner
        height, width = mark.stencil.inside.shape
        own = Piece(
            top // SAMPLES,
            left // SAMPLES,
            -(-(top + height) // SAMPLES),
            -(-(left + width) // SAMPLES),
        )
        return own.widened(*self._tails).common(self._whole)

    def _shares(self) -> np.ndarray:
        parts, shares = self._parts(), np.zeros((len(self.sets), *self._size), np.float32)
        for share, bits in zip(shares[1:], self.sets[1:], strict=True):
            part = parts.get(bits)
            piece = self._extent(bits, part)
            if not piece.empty:
                share[piece.slices] = self._share(bits, piece, part)
        np.subtract(1.0, shares[1:].sum(axis=0), out=shares[0])
        return shares

    def _extent(self, bits: int, part: _Part | None) -> Piece:
        """The pixels that a set's softened picture may touch: those that all its inks' do, and
        where none of these go on beyond the window, no more than lie within its outlines."""
        extent, cut = self._whole, part is None
        for bit in range(bits.bit_length()):
            if bits >> bit & 1:
                own = [k for k, mark in enumerate(self.marks) if mark.bit == bit]
                extent = extent.common(reduce(Piece.hull, [self.reaches[k] for k in own]))
                cut = cut or any(self.edges[k].cut for k in own)
        return extent if cut or not part else extent.common(part.piece.widened(*self._tails))

    @property
    def _tails(self) -> tuple[int, int]:
        """Pixels down rows and along columns that softness reaches beyond an outline."""
        row, col = (math.ceil(_TAILS * width) + 1 for width in self.softness_px)
        return row, col

    @property
    def _size(self) -> tuple[int, int]:
        return self.window.rows, self.window.cols

    def _parts(self) -> dict[int, _Part]:
        """By set, what the outlines' samples hold of it."""
        with_ink = np.concatenate([edge.sets for edge in self.edges])
        if not with_ink.size:
            return {}
        marks = list(zip(self.marks, self.edges, strict=True))
        # The ink's part is added to the set with it, and taken from the set without.
        without = [edge.sets & ~self._bit(mark) for mark, edge in marks]
        share = np.concatenate([mark.stencil.part[edge.which] for mark, edge in marks])
        share /= np.float32(_COARSER**2)
        sets = np.concatenate([with_ink, *without])
        order = np.argsort(sets, kind="stable")
        rows, cols = (
            np.concatenate(2 * [getattr(edge, axis) for edge in self.edges]).take(order) // _COARSER
            for axis in ("rows", "cols")
        )
        shares = np.concatenate([share, -share]).take(order)
        counts = np.bincount(sets)
        found = np.flatnonzero(counts)
        ends = np.cumsum(counts[found])
        starts = ends - counts[found]
        lows = [(np.minimum.reduceat(axis, starts) // _HALVES).tolist() for axis in (rows, cols)]
        highs = [(np.maximum.reduceat(axis, starts) // _HALVES).tolist() for axis in (rows, cols)]
        return {
            bits: _Part(
                rows[start:end],
                cols[start:end],
                shares[start:end],
                Piece(top, left, bottom + 1, right + 1),
            )
            for bits, start, end, top, left, bottom, right in zip(
                found.tolist(), starts.tolist(), ends.tolist(), *lows, *highs, strict=True
            )
        }

    def _share(self, bits: int, piece: Piece, part: _Part | None) -> np.ndarray:
        """One set's share of every pixel of a piece."""
        inked = (self._labels[piece.samples(SAMPLES)] == bits) * np.uint8(_WHOLE)
        rows, cols = piece.bottom - piece.top, piece.right - piece.left
        size = (cols * _HALVES, rows * _HALVES)
        half = cv2.resize(inked, size, interpolation=cv2.INTER_AREA)
        plane = half * np.float32(1.0 / _WHOLE)
        if part:
            index = part.rows * size[0] + (part.cols - _HALVES * (piece.top * size[0] + piece.left))
            np.add.at(plane.ravel(), index, part.shares)
        soft = softened(plane, (self.softness_px[0] * _HALVES, self.softness_px[1] * _HALVES))
        return np.asarray(cv2.resize(soft, (cols, rows), interpolation=cv2.INTER_AREA))

    @property
    def count(self) -> int:
        """How many marks it holds."""
        return len(self.marks)

    def felt(self) -> np.ndarray:
        """rows x cols bool: pixels near enough to an outline to change when a mark moves."""
        near = np.zeros(self._size, np.uint8)
        for edge in self.edges:
            near[edge.rows // SAMPLES, edge.cols // SAMPLES] = 1
        reach = [2 * math.ceil(_FELT * width + 0.5) + 1 for width in self.softness_px]
        return np.asarray(cv2.dilate(near, np.ones(reach, np.uint8)) > 0)

    @cached_property
    def sides(self) -> Sides:
        """What lies on either side of all marks' outlines."""
        number = {bits: k for k, bits in enumerate(self.sets)}
        rows = [
            (k, number[bits & ~(1 << mark.bit)], number[bits], run.stop - run.start)
            for k, (mark, edge) in enumerate(zip(self.marks, self.edges, strict=True))
            for bits, run in edge.runs
        ]
        return Sides(*np.array(rows, np.intp).reshape(-1, 4).T)


def softened(picture: np.ndarray, softness: tuple[float, float]) -> np.ndarray:
    """A picture of any channels through the optics; softness down rows and along columns, in its
    own pixels."""
    size = [2 * math.ceil(_TAILS * width) + 1 for width in softness]
    soft = cv2.GaussianBlur(
        picture,
        (size[1], size[0]),
        sigmaX=softness[1],
        sigmaY=softness[0],
        borderType=cv2.BORDER_REPLICATE,
    )
    # Far tails are numbers so small that a processor takes a hundred times as long over each.
    np.add(soft, 1.0, out=soft)
    return np.subtract(soft, 1.0, out=soft)
