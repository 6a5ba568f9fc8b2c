"""Arcs: a mark's outline in points two pixels apart, cut into short pieces of edge."""

import itertools
import math
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.layout import Shape
from regscan.marks.shape.outline import outline_length_px, outline_px, signed_area, spread_of

_ARC_PX = 8.0  # longer than rough edges hang together, short against the mark
_POINTS_PX = 2.0  # between points: the optics are no finer
_SHARP = math.radians(25.0)  # a turn beyond this is a corner
_CORNER_PX = 2.5  # from a corner, where an edge looks bent


@dataclass(frozen=True)
class Arcs:
    """An outline as N points in A arcs, corners left out.

    points    N x 2, row and col px about the mark's centre.
    outward   N x 2, the way out of the ink, a step of 1 px.
    arc       N, which arc each point belongs to, from 0, rising.
    spread    N, px that each point moves out per px of growth.
    length    of the whole outline, corners included, in pixels of the mean size.
    """

    points: np.ndarray
    outward: np.ndarray
    arc: np.ndarray
    spread: np.ndarray
    length: float

    @property
    def count(self) -> int:
        """A, how many arcs."""
        return int(self.arc[-1]) + 1 if self.arc.size else 0

    @cached_property
    def reach_px(self) -> float:
        """How far the outline goes from the mark's centre, down or across; 0 without an arc."""
        return float(np.abs(self.points).max(initial=0.0))

    @cached_property
    def lengths(self) -> np.ndarray:
        """A, px of each arc."""
        return _POINTS_PX * np.bincount(self.arc, minlength=self.count)

    @cached_property
    def normals(self) -> np.ndarray:
        """A x 2, the way out of the ink that each arc faces, a step of 1 px."""
        mean = self.means(self.outward)
        return np.asarray(mean / np.linalg.norm(mean, axis=1, keepdims=True))

    @cached_property
    def spreads(self) -> np.ndarray:
        """A, px that each arc moves out per px of growth."""
        return self.means(self.spread)

    def means(self, values: np.ndarray) -> np.ndarray:
        """Means of values (N x ...) over each arc's points: A x ..."""
        shares = self._shares.astype(values.dtype, copy=False)
        flat = values.reshape(len(values), math.prod(values.shape[1:]))
        return (shares @ flat).reshape(self.count, *values.shape[1:])

    @cached_property
    def points_by_axis(self) -> np.ndarray:
        """2 x N x 1 float32, the points."""
        return _by_axis(self.points)

    @cached_property
    def outward_by_axis(self) -> np.ndarray:
        """2 x N x 1 float32, the ways out."""
        return _by_axis(self.outward)

    @cached_property
    def spread_by_axis(self) -> np.ndarray:
        """2 x N x 1 float32, the ways that points move per px of growth."""
        return _by_axis(self.spread[:, None] * self.outward)

    @cached_property
    def _shares(self) -> np.ndarray:
        """A x N float32, of each point in the mean of each arc."""
        own = (self.arc == np.arange(self.count)[:, None]).astype(np.float32)
        return own / own.sum(axis=1, keepdims=True)


def _by_axis(pairs: np.ndarray) -> np.ndarray:
    return np.ascontiguousarray(pairs.T[:, :, None], np.float32)


@lru_cache(maxsize=128)
def arcs_of(shape: Shape, camera: Camera) -> Arcs:
    """A shape's outline as this camera sees it."""
    outline = outline_px(shape, camera)
    body = max(outline, key=lambda p: abs(signed_area(p)))
    points, outward, arc = [np.zeros((0, 2))], [np.zeros((0, 2))], [np.zeros(0, int)]
    count = 0
    for polygon in outline:
        # Out is away from the ink: out of the body, and into a hole.
        turn = math.copysign(1.0, signed_area(polygon)) * (1.0 if polygon is body else -1.0)
        for at, along in _runs(polygon):
            pieces = max(round(len(at) * _POINTS_PX / _ARC_PX), 1)
            points.append(at)
            outward.append(turn * np.stack([along[:, 1], -along[:, 0]], axis=1))
            arc.append(count + np.arange(len(at)) * pieces // len(at))
            count += pieces
    out = np.concatenate(outward)
    return Arcs(
        np.concatenate(points),
        out,
        np.concatenate(arc),
        spread_of(out, camera),
        outline_length_px(outline, camera),
    )


def _runs(polygon: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
    """Points, and the way along there, of every run between corners."""
    along = np.roll(polygon, -1, axis=0) - polygon
    sizes = np.linalg.norm(along, axis=1)
    units = along / sizes[:, None]
    turns = np.einsum("ij,ij->i", units, np.roll(units, 1, axis=0))
    sharp = np.flatnonzero(turns < math.cos(_SHARP))
    margin, first = (_CORNER_PX, int(sharp[0])) if sharp.size else (0.0, 0)
    ends = [*(sharp - first), len(polygon)] if sharp.size else [0, len(polygon)]
    polygon, units, sizes = (np.roll(a, -first, axis=0) for a in (polygon, units, sizes))
    before = np.concatenate([[0.0], np.cumsum(sizes)])
    runs = []
    for start, end in itertools.pairwise(ends):
        low, high = before[start] + margin, before[end] - margin
        count = math.floor((high - low) / _POINTS_PX)
        if high - low >= _ARC_PX / 2.0:
            at = low + (np.arange(count) + 0.5) * (high - low) / count
            which = np.clip(np.searchsorted(before, at, side="right") - 1, start, end - 1)
            into = (at - before[which])[:, None]
            runs.append((polygon[which] + into * units[which], units[which]))
    return runs
