"""Where a mark's outline shows, whatever lies on it, under it or beside it.

Its colour may lead nowhere: on artwork an ink looks like no ink of the job, and beside
artwork of its own ink a mark's form is lost. The step that its ink makes at its outline is
there all the same.
"""

import math
from functools import lru_cache

import cv2
import numpy as np

from regscan.marks.clusters import Box
from regscan.marks.seeing.inkstep import InkStep
from regscan.marks.seeing.piece import Piece
from regscan.marks.seeing.separate import Coarse
from regscan.marks.shape.arcs import Arcs

_ASIDE_PX = 3.0  # where colours beside an edge are looked at
_STEP_PX = 2.0
_POINTS, _POINTS_FIRST = 40, 12  # of an outline that are enough to search with, or to sift
_SIFTED, _SIFTED_NEAR = 60, 24  # places that are asked again with more points; of the near ones
_SIFTED_FOURS = 40  # two by two small pixels that are asked one by one
_OF_FOUR = np.array([[0, 0], [0, 1], [1, 0], [1, 1]])
_ASIDE_SMALL = 1.5  # small pixels: strokes are 2.2 wide or more
_LEAST_SHOWN = 0.33  # of an outline, in the small picture
_LEAST_PRINTED = 0.7  # of the ink that a mark has: it may be soft, or pale
_MOST_PLACES = 3


def seek(
    piece: Piece, arcs: Arcs, ink: InkStep, place: tuple[float, float], reach_px: float
) -> tuple[float, float]:
    """(row, col) px within reach of a place, where most of the outline shows the ink's step."""
    grid = _grid(math.ceil(reach_px / _STEP_PX))
    likely = _sifted(piece, arcs, ink, grid + place, _ASIDE_PX, _SIFTED_NEAR)
    steps = grid[likely]
    shown = _shown(piece, arcs, ink, steps + place, _ASIDE_PX, _POINTS)
    # Between places alike, the nearer one.
    best = int((shown - 1e-4 * np.abs(steps).sum(axis=1)).argmax())
    row, col = (steps[best] + place).tolist()
    return row, col


@lru_cache(maxsize=8)
def _grid(count: int) -> np.ndarray:
    """K x 2, steps of so many and fewer either way, px."""
    line = np.arange(-count, count + 1) * _STEP_PX
    return np.stack(np.meshgrid(line, line, indexing="ij"), axis=-1).reshape(-1, 2)


def outline_places(
    coarse: Coarse, arcs: Arcs, ink: InkStep, bare: np.ndarray, shape: np.ndarray, within: Box
) -> list[tuple[float, float, float]]:
    """(row, col, share of the outline that shows) of the likeliest places of a mark, px of the
    frame, best first; good to a small pixel.

    bare     C, light of the substrate.
    shape    h x w, its ink at the coarse scale.
    within   where its middle is to be.
    """
    size = shape.shape[1], shape.shape[0]
    inked = coarse.printed & ink.may_lie_in(coarse.light, bare)
    printed = cv2.boxFilter(inked.astype(np.float32), -1, size, normalize=False)
    there = printed > _LEAST_PRINTED * float(shape.sum())
    low = coarse.small(within.row - within.half_rows, within.col - within.half_cols)
    high = coarse.small(within.row + within.half_rows, within.col + within.half_cols)
    top, left = (max(math.ceil(at), 0) for at in low)
    bottom, right = (max(math.floor(at) + 1, 0) for at in high)
    there = there[top:bottom, left:right]
    there = np.pad(there, [(0, side % 2) for side in there.shape])
    if not (there.any() and arcs.count):
        return []
    first = np.array(coarse.full(0.0, 0.0))
    piece = Piece(np.dstack(coarse.light), first[0], first[1], coarse.factor)
    corner, aside_px = first + np.array([top, left]) * coarse.factor, _ASIDE_SMALL * coarse.factor
    # Four places together are asked in their middle first: it is within what points reach aside.
    fours = _fours(there)
    middles = corner + (2 * fours + 0.5) * coarse.factor
    fours = fours[_sifted(piece, arcs, ink, middles, aside_px, _SIFTED_FOURS)]
    places = (2 * fours[:, None] + _OF_FOUR).reshape(-1, 2)
    centres = corner + places[there[places[:, 0], places[:, 1]]] * coarse.factor
    centres = centres[_sifted(piece, arcs, ink, centres, aside_px, _SIFTED)]
    shown = _shown(piece, arcs, ink, centres, aside_px, _POINTS)
    apart = 0.5 * min(size) * coarse.factor
    found: list[tuple[float, float, float]] = []
    for k in np.argsort(-shown):
        row, col = centres[k].tolist()
        if shown[k] < _LEAST_SHOWN or len(found) == _MOST_PLACES:
            break
        if all(math.hypot(row - r, col - c) > apart for r, c, _ in found):
            found.append((row, col, float(shown[k])))
    return found


def _fours(there: np.ndarray) -> np.ndarray:
    """K x 2, which two by two pixels hold any of some (rows x cols bool, both even)."""
    any_of = there[::2, ::2] | there[1::2, ::2] | there[::2, 1::2] | there[1::2, 1::2]
    return np.argwhere(any_of)


def _sifted(
    piece: Piece, arcs: Arcs, ink: InkStep, centres: np.ndarray, aside_px: float, count: int
) -> np.ndarray:
    """Which of K x 2 centres are worth more points: so many at most, the likeliest first."""
    shown = _shown(piece, arcs, ink, centres, aside_px, _POINTS_FIRST)
    return np.argsort(-shown, kind="stable")[:count]


def _shown(
    piece: Piece, arcs: Arcs, ink: InkStep, centres: np.ndarray, aside_px: float, points: int
) -> np.ndarray:
    """K, share of an outline's points that show the ink's step, about each of K x 2 centres."""
    some = slice(None, None, max(len(arcs.points) // points, 1))
    out = aside_px * arcs.outward[some]
    outside, inside = (
        piece.at(centres[:, :1] + beside[:, 0], centres[:, 1:] + beside[:, 1])
        for beside in (arcs.points[some] + out, arcs.points[some] - out)
    )
    shows, ratio = ink.shown(inside, outside)
    return np.asarray(np.where(shows, np.minimum(ratio, 1.0), 0.0).mean(axis=1))
