"""Scene: several inks' marks printed on, against or near each other, drawn as one.

At quarter-pixel samples every place holds a set of inks and so one colour; the
optics then soften the whole. Each distinct set's share of every pixel is one
linear part of the picture, its colour the factor; how the picture changes when
one mark moves follows from the two colours on either side of its outline.
Sets and marks are drawn only where they reach, so that a wide scene of small
marks costs no more than the marks.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import reduce

import cv2
import numpy as np

from regscan.marks.shape.stencil import SAMPLES, Stencil

_HALVES = 2  # samples per pixel at which the optics' softness is applied
_COARSER = SAMPLES // _HALVES
_WHOLE = 252  # a full sample in bytes: the mean of any four is then exact
_TAILS = 3.0  # of the softness on either side: beyond lies 1/400 of the light
_FELT = 2.0  # of the softness from an outline: beyond lies 1/200 of what tells its place
_SMALL = 3000  # pixels of a picture: larger ones gain nothing from being softened side by side
_ALL = slice(None)
_Part = tuple[np.ndarray, np.ndarray, np.ndarray]  # rows, cols, shares


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
class _Edge:
    """A mark's edge samples within the window, those of one set together.

    rows, cols   their places.   which   which of the stencil's they are.
    runs         (set with the mark's ink, slice of the samples) of every set.
    """

    rows: np.ndarray
    cols: np.ndarray
    which: np.ndarray | slice
    runs: tuple[tuple[int, slice], ...]


@dataclass(frozen=True, slots=True)
class Change:
    """How one mark's part of the picture changes, in a piece of the window.

    rates   C x 5 x pixels float32, row by row, per px that the mark moves down the rows, along
            the columns, and grows all round, and per px^2 of variance that optics are softer
            down and along; a last one, for all other pixels, of zeros.
    """

    piece: Piece
    rates: np.ndarray


class Scene:
    """Marks put into a window.

    sets      the S ink sets (bits) that occur; the first is 0, bare substrate.
    shares    S x rows x cols float32 at pixel pitch: each set's share of every pixel; they
              add up to 1.
    """

    def __init__(
        self, marks: Sequence[Placed], window: Window, softness_px: tuple[float, float]
    ) -> None:
        self.window, self._softness, self._marks = window, softness_px, marks
        self._whole = Piece(0, 0, window.rows, window.cols)
        self._labels = np.zeros((window.rows * SAMPLES, window.cols * SAMPLES), np.uint8)
        for mark in marks:
            self._lay(mark)
        self._edges = [self._edge(mark) for mark in marks]
        self._reaches = [self._reach(mark) for mark in marks]
        # Every set's region ends at some outline, unless none lies within the window.
        self.sets = sorted(
            {0, int(self._labels[0, 0])}.union(
                *({bits, bits & ~(1 << mark.bit)} for mark, bits in self._with_sets())
            )
        )
        self.shares = self._shares()

    def _with_sets(self) -> Iterator[tuple[Placed, int]]:
        for mark, edge in zip(self._marks, self._edges, strict=True):
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
            self._labels[y0:y1, x0:x1] |= piece << mark.bit

    def _edge(self, mark: Placed) -> _Edge:
        """A mark's edge samples, once all masks are painted."""
        height, width = self._labels.shape
        (top, left), (down, right) = mark.corner, mark.stencil.inside.shape
        rows, cols = mark.stencil.rows + top, mark.stencil.cols + left
        which: np.ndarray | slice = _ALL
        if min(top, left) < 0 or top + down > height or left + right > width:
            which = np.flatnonzero((rows >= 0) & (rows < height) & (cols >= 0) & (cols < width))
            rows, cols = rows[which], cols[which]
        with_ink = self._labels.ravel().take(rows * width + cols) | np.uint8(1 << mark.bit)
        counts = np.bincount(with_ink)
        sets = np.flatnonzero(counts).tolist()
        if len(sets) > 1:
            order = np.argsort(with_ink, kind="stable")
            rows, cols = rows[order], cols[order]
            which = order if which is _ALL else np.asarray(which)[order]
        ends = [0, *np.cumsum(counts).tolist()]
        runs = tuple((bits, slice(ends[bits], ends[bits + 1])) for bits in sets)
        return _Edge(rows, cols, which, runs)

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
            piece = self._extent(bits)
            if not piece.empty:
                share[piece.slices] = self._share(bits, piece, parts[bits])
        np.subtract(1.0, shares[1:].sum(axis=0), out=shares[0])
        return shares

    def _extent(self, bits: int) -> Piece:
        """The pixels that a set's softened picture may touch: those that all its inks' do."""
        extent = self._whole
        for bit in range(bits.bit_length()):
            if bits >> bit & 1:
                marks = zip(self._marks, self._reaches, strict=True)
                own = [reach for mark, reach in marks if mark.bit == bit]
                extent = extent.common(reduce(Piece.hull, own))
        return extent

    @property
    def _tails(self) -> tuple[int, int]:
        """Pixels down rows and along columns that softness reaches beyond an outline."""
        row, col = (math.ceil(_TAILS * width) + 1 for width in self._softness)
        return row, col

    @property
    def _size(self) -> tuple[int, int]:
        return self.window.rows, self.window.cols

    def _parts(self) -> dict[int, list[_Part]]:
        """By set, what the outlines' samples hold of it beyond the yes or no of their masks."""
        parts: dict[int, list[_Part]] = {bits: [] for bits in self.sets}
        for mark, edge in zip(self._marks, self._edges, strict=True):
            rows, cols = edge.rows // _COARSER, edge.cols // _COARSER
            share = mark.stencil.part[edge.which] / np.float32(_COARSER**2)
            for bits, run in edge.runs:
                # The ink's part is added to the set with it, and taken from the set without.
                parts[bits].append((rows[run], cols[run], share[run]))
                parts[bits & ~(1 << mark.bit)].append((rows[run], cols[run], -share[run]))
        return parts

    def _share(self, bits: int, piece: Piece, parts: list[_Part]) -> np.ndarray:
        """One set's share of every pixel of a piece."""
        inked = (self._labels[piece.samples(SAMPLES)] == bits) * np.uint8(_WHOLE)
        rows, cols = piece.bottom - piece.top, piece.right - piece.left
        size = (cols * _HALVES, rows * _HALVES)
        half = cv2.resize(inked, size, interpolation=cv2.INTER_AREA)
        plane = half * np.float32(1.0 / _WHOLE)
        for at_rows, at_cols, share in parts:
            index = (at_rows - piece.top * _HALVES) * size[0] + at_cols - piece.left * _HALVES
            np.add.at(plane.ravel(), index, share)
        soft = _softened(plane, (self._softness[0] * _HALVES, self._softness[1] * _HALVES))
        return np.asarray(cv2.resize(soft, (cols, rows), interpolation=cv2.INTER_AREA))

    @property
    def count(self) -> int:
        """How many marks it holds."""
        return len(self._marks)

    def felt(self) -> np.ndarray:
        """rows x cols bool: pixels near enough to an outline to change when a mark moves."""
        near = np.zeros(self._size, np.uint8)
        for edge in self._edges:
            near[edge.rows // SAMPLES, edge.cols // SAMPLES] = 1
        reach = [2 * math.ceil(_FELT * width + 0.5) + 1 for width in self._softness]
        return np.asarray(cv2.dilate(near, np.ones(reach, np.uint8)) > 0)

    def sides(self, number: int) -> list[tuple[int, int, int]]:
        """(set without, set with the mark's ink, samples) along a mark's outline."""
        bit = 1 << self._marks[number].bit
        return [(bits & ~bit, bits, run.stop - run.start) for bits, run in self._edges[number].runs]

    def change(self, number: int, colours: np.ndarray) -> Change:
        """How the picture changes with mark `number`, with colours[s] (S x C) for sets[s]."""
        piece, channels = self._reaches[number], colours.shape[1]
        if piece.empty or not self._edges[number].runs:
            return Change(piece, np.zeros((channels, 5, 1), np.float32))
        moves = self._moves(number, colours.astype(np.float32))
        # Half the picture's second derivative, which is minus the slope of what a move changes.
        softer = np.zeros_like(moves[:, :2])
        softer[:, 0, 1:] = moves[:, 0, :-1]
        softer[:, 0, :-1] -= moves[:, 0, 1:]
        softer[:, 1, :, 1:] = moves[:, 1, :, :-1]
        softer[:, 1, :, :-1] -= moves[:, 1, :, 1:]
        rates = np.zeros((channels, 5, moves[0, 0].size + 1), np.float32)
        rates[:, :3, :-1] = moves.reshape(channels, 3, -1)
        rates[:, 3:, :-1] = softer.reshape(channels, 2, -1) / 4.0
        return Change(piece, rates)

    def _moves(self, number: int, colours: np.ndarray) -> np.ndarray:
        """C x 3 x rows x cols of its reach, the first of these rates."""
        mark, edge, piece = self._marks[number], self._edges[number], self._reaches[number]
        size = piece.bottom - piece.top, piece.right - piece.left
        lookup = dict(zip(self.sets, colours / SAMPLES**2, strict=True))
        steps = np.array([lookup[bits] - lookup[bits & ~(1 << mark.bit)] for bits, _ in edge.runs])
        rates = mark.stencil.rates[:, edge.which]
        at = (edge.rows // SAMPLES - piece.top) * size[1] + edge.cols // SAMPLES - piece.left
        # By set or by channel, whichever are fewer.
        by_set = len(steps) <= colours.shape[1]
        if by_set:
            parts = [(at[run], rates[:, run]) for _, run in edge.runs]
        else:
            counts = [run.stop - run.start for _, run in edge.runs]
            parts = [(at, rates * step) for step in np.repeat(steps, counts, axis=0).T]
        planes = np.zeros((len(parts), 3, size[0] * size[1]), np.float32)
        for own, (places, values) in zip(planes, parts, strict=True):
            for plane, value in zip(own, values, strict=True):
                np.add.at(plane, places, value)
        # Softened at pixel pitch: good enough to know which way to step, how far.
        _soften(planes.reshape(-1, *size), self._softness)
        moves = np.tensordot(steps.T, planes, 1) if by_set else planes
        return np.asarray(moves.reshape(-1, 3, *size))


def _soften(planes: np.ndarray, softness: tuple[float, float]) -> None:
    """Put K x rows x cols through the optics."""
    count, rows, cols = planes.shape
    if rows * cols > _SMALL:
        for plane in planes:
            plane[:] = _softened(plane, softness)
        return
    # A few small pictures take a fifth of the time that they take one by one.
    beside = np.ascontiguousarray(planes.reshape(count, -1).T).reshape(rows, cols, count)
    planes[:] = _softened(beside, softness).reshape(rows, cols, count).transpose(2, 0, 1)


def _softened(picture: np.ndarray, softness: tuple[float, float]) -> np.ndarray:
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
