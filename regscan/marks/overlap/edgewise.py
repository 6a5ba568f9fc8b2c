"""Edgewise: a mark's place from its outline, piece by piece, whatever else is printed there.

Where artwork or other marks lie over or under a mark, no picture of the whole can be
known beforehand. But wherever the mark's outline shows, the light steps from what is
beside the mark to what its ink makes of that. So the outline is cut into short arcs;
each has its own colours on either side, is judged for being that ink's step, and says
by how much the edge lies off there. The mark is where most of its arcs agree.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from regscan.marks.seeing.inkstep import InkStep
from regscan.marks.shape.arcs import Arcs

_ACROSS_PX = np.arange(-5.0, 5.1, 0.5)  # of the profiles, out being positive
_NEAR_PX = 1.0  # an edge no further off is the one meant
_ASIDE_PX = 3.0  # where colours beside an edge are looked at in a search
_SEARCH_PX = 2.0
_ASTRAY_PX = np.arange(-3.0, 3.1)  # how far off edges are looked for before the first round
_SEARCHED = 60  # points of an outline that are enough to search with
_ROUNDS = 12
_STILL_PX = 0.01
_FEWEST = 6  # arcs that can agree on three numbers
# Arcs that tell one direction: fewer confirm nothing, or are too many to be alike by chance.
_LONE, _ENOUGH = 1.5, 4.0
_MISFIT = 0.06  # rms left of an arc's profile over its step, where trust begins to go
_TIMES_USUAL, _LEAST_MISFIT = 2.0, 0.02  # or over that of most arcs, where that is less
_AGREE = 3.5  # sd
_SAME_PX = 0.12  # scatter of arcs that is called agreement: rough edges
_WIDTHS_PX = (0.6, 4.0)
_MOST_GROWTH_PX = 2.0
# Per px^2, in px of edge: growth is known beforehand as well as a short arc would tell it, the
# place to what a search may be off by. What no arc tells is known no better than that.
_HOLD = np.diag([0.08, 0.08, 0.3])
_BEFOREHAND_PX = np.diag([2.5, 2.5, 0.7])
# What is alike over several arcs, and the arcs left out for lying too far off, do not show
# in the scatter of the rest: on drawn frames errors are 1.25 times what it says.
_UNFELT = 1.6


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of the frame: light as a share of white, evenly lit, and its top-left pixel.

    light   rows x cols x C float32.
    """

    light: np.ndarray
    row: int
    col: int

    @staticmethod
    def of(light: np.ndarray, row: int, col: int) -> "Piece":
        """A piece of any float type."""
        return Piece(light.astype(np.float32), row, col)

    def at(self, points: np.ndarray) -> np.ndarray:
        """K x L x C light at places (K x L x 2, row and col px of the frame); NaN outside."""
        own = (points - (self.row, self.col)).astype(np.float32)
        light = cv2.remap(
            self.light,
            np.ascontiguousarray(own[..., 1]),
            np.ascontiguousarray(own[..., 0]),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=(math.nan,) * 4,
        )
        return np.asarray(light).reshape(*points.shape[:-1], -1)


@dataclass(frozen=True, slots=True)
class EdgeFit:
    """A mark placed by its arcs; lengths px.

    covariance   of the centre, from how arcs scatter.
    growth_px    how far all edges lie outside the design's.
    support      share of the outline whose arcs show the ink's step where the mark has it.
    width_px     softness of the edge (one sigma), pixels included.
    step         the ink's step over the one expected.   contrast   its size in light.
    misfit       rms left of the profiles over that.
    told         share of the arcs which agree, of those that show the ink's step and tell the
                 direction that fewest tell; 1 where they are many, 0 for one alone.
    outside      A x C, light beside every arc.
    """

    row_px: float
    col_px: float
    covariance: np.ndarray
    growth_px: float
    support: float
    width_px: float
    step: float
    contrast: float
    misfit: float
    told: float
    outside: np.ndarray


def seek(
    piece: Piece, arcs: Arcs, ink: InkStep, place: tuple[float, float], reach_px: float
) -> tuple[float, float]:
    """(row, col) px within reach of a place, where most of the outline shows the ink's step."""
    count = math.ceil(reach_px / _SEARCH_PX)
    line = np.arange(-count, count + 1) * _SEARCH_PX
    grid = np.stack(np.meshgrid(line, line, indexing="ij"), axis=-1).reshape(-1, 1, 2)
    some = slice(None, None, max(len(arcs.points) // _SEARCHED, 1))
    base, out = arcs.points[some] + place, _ASIDE_PX * arcs.outward[some]
    outside, inside = piece.at(grid + base + out), piece.at(grid + base - out)
    shows, ratio = ink.shown(inside, outside)
    scores = np.where(shows, np.minimum(ratio, 1.0), 0.0).mean(axis=1)
    # Between places alike, the nearer one.
    best = int((scores - 1e-4 * np.abs(grid[:, 0]).sum(axis=1)).argmax())
    row, col = (grid[best, 0] + place).tolist()
    return row, col


def fit_edges(
    piece: Piece, arcs: Arcs, ink: InkStep, place: tuple[float, float], width_px: float
) -> EdgeFit | None:
    """The mark within a few px of a place; None where too few arcs agree on one."""
    if arcs.count < _FEWEST:
        return None
    normal = arcs.means(arcs.outward)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    ways = np.column_stack([normal, np.ones(arcs.count)])
    lengths = arcs.lengths()
    centre, growth, width = np.array(place), 0.0, width_px
    aside = _aside(arcs.means(piece.at(_across(arcs, centre, 0.0))), width)
    for _ in range(_ROUNDS):
        lines = _across(arcs, centre, growth + aside[arcs.arc])
        read = _read(arcs.means(piece.at(lines)), width, ink)
        weight = lengths * read.good
        if np.count_nonzero(weight) < _FEWEST:
            return None
        agreed = _agreed(ways, aside + read.off, weight)
        steps = agreed.steps
        centre = centre + np.clip(steps[:2], -2.0, 2.0)
        growth = float(np.clip(growth + steps[2], -_MOST_GROWTH_PX, _MOST_GROWTH_PX))
        width = float(np.clip(width * (1.0 + np.clip(read.wider, -0.3, 0.3)), *_WIDTHS_PX))
        if float(np.abs(steps).max()) < _STILL_PX and not aside.any():
            break
        aside = np.zeros(arcs.count)
    few = np.count_nonzero(agreed.agree) < _FEWEST
    if few or abs(growth) >= _MOST_GROWTH_PX or width >= _WIDTHS_PX[1]:
        return None  # what agrees is not this outline
    return _edge_fit(arcs, ways, agreed, read, (centre, growth, width))


@dataclass(frozen=True, slots=True)
class Witness:
    """What the arcs of a mark say that is said to be exactly somewhere: counts of arcs.

    visible   where its ink would show beside what lies around it.
    clear     those of them at which there is one edge, or none, and nothing else.
    shown     those of them with this ink's edge.
    """

    visible: int
    clear: int
    shown: int


def witness(
    piece: Piece, arcs: Arcs, ink: InkStep, place: tuple[float, float], width_px: float
) -> Witness:
    """Whether the outline of a mark is seen at a place that was found without it."""
    read = _read(arcs.means(piece.at(_across(arcs, place, 0.0))), width_px, ink)
    visible = ink.visible(read.outside)
    clear = visible & (read.misfit < _MISFIT)
    shown = clear & (read.good > 0.0) & (np.abs(read.off) < _NEAR_PX)
    return Witness(*(int(np.count_nonzero(which)) for which in (visible, clear, shown)))


def _across(
    arcs: Arcs, centre: Sequence[float] | np.ndarray, growth: float | np.ndarray
) -> np.ndarray:
    """N x T x 2, places across the edge at every point of an outline, inside first.

    growth   px that the edge lies outside the design's: of all, or N.
    """
    base = arcs.points + np.asarray(centre) + np.reshape(growth, (-1, 1)) * arcs.outward
    return np.asarray(base[:, None] + _ACROSS_PX[:, None] * arcs.outward[:, None])


def _aside(profiles: np.ndarray, width: float) -> np.ndarray:
    """A, whole px that each arc's edge lies further out: where one edge explains most of its
    profile (A x T x C). An edge further off than it is soft cannot be read as a small move."""
    profiles = np.where(np.isfinite(profiles).all(axis=(1, 2), keepdims=True), profiles, 0.0)
    explained = []
    for shift in _ASTRAY_PX:
        basis = np.linalg.qr(_sides(_ACROSS_PX - shift, width))[0]
        explained.append(np.square(np.tensordot(profiles, basis, (1, 0))).sum(axis=(1, 2)))
    return np.asarray(_ASTRAY_PX[np.argmax(explained, axis=0)])


def _sides(across: np.ndarray, width: float) -> np.ndarray:
    """T x 2, shares of the inner and of the outer colour across a soft edge at 0."""
    outer = 0.5 * np.array([math.erfc(-t / (width * math.sqrt(2.0))) for t in across])
    return np.stack([1.0 - outer, outer], axis=1)


@dataclass(frozen=True, slots=True)
class _Read:
    """What A arcs' profiles say.

    off      how far out their edge lies, px.   shows   bool, the ink's step.
    good     0..1.   wider   relative, of all.
    ratio    the ink's step over the expected.   size   of the step.   misfit   rms left over it.
    outside  A x C, light beside the edge.
    """

    off: np.ndarray
    shows: np.ndarray
    good: np.ndarray
    wider: float
    ratio: np.ndarray
    size: np.ndarray
    misfit: np.ndarray
    outside: np.ndarray


def _read(profiles: np.ndarray, width: float, ink: InkStep) -> _Read:
    """profiles   A x T x C, light across each arc's edge, inside first.

    Every arc's two colours are solved for; what is left along their difference says how far
    the edge is moved and how much softer it is.
    """
    across = _ACROSS_PX
    sides = _sides(across, width)
    slope = np.exp(-0.5 * (across / width) ** 2) / (width * math.sqrt(2.0 * math.pi))
    solve = np.linalg.pinv(sides)
    known = np.isfinite(profiles).all(axis=(1, 2))
    profiles = np.where(known[:, None, None], profiles, 0.0)
    inside, outside = np.einsum("st,atc->sac", solve, profiles)
    step = inside - outside
    size = np.sqrt(np.einsum("ac,ac->a", step, step)) + 1e-6
    left = profiles - np.einsum("ts,sac->atc", sides, np.stack([inside, outside]))
    along = np.einsum("atc,ac->at", left, step) / size[:, None] ** 2
    move, soften = (part - sides @ (solve @ part) for part in (slope, across * slope / width))
    off, wider = along @ move / (move @ move), along @ soften / (soften @ soften)
    along = along - off[:, None] * move - wider[:, None] * soften
    aside = left - np.einsum("atc,ac,ad->atd", left, step, step) / size[:, None, None] ** 2
    squares = (along**2).mean(axis=1) + (aside**2).sum(axis=2).mean(axis=1) / size**2
    misfit = np.sqrt(squares)
    shows, ratio = ink.shown(inside, outside)
    seen = shows & known
    usual = float(np.median(misfit[seen])) if seen.any() else 0.0
    limit = min(max(_TIMES_USUAL * usual, _LEAST_MISFIT), _MISFIT)
    good = seen * np.clip(2.0 - misfit / limit, 0.0, 1.0)
    sure = good > 0.5
    wide = float(np.median(wider[sure])) / width if sure.any() else 0.0
    return _Read(np.clip(off, -2.5, 2.5), seen, good, wide, ratio, size, misfit, outside)


@dataclass(frozen=True, slots=True)
class _Agreed:
    """Steps (row, col, growth) that most arcs agree on; A left, what each is off from them,
    px; own, A, the weight each was given; agree, A bool."""

    steps: np.ndarray
    left: np.ndarray
    own: np.ndarray
    agree: np.ndarray


def _agreed(ways: np.ndarray, off: np.ndarray, weight: np.ndarray) -> _Agreed:
    used, own = weight > 0.0, weight
    for _ in range(5):
        weighted = ways * own[:, None]
        steps = np.linalg.solve(weighted.T @ ways + _HOLD, weighted.T @ off)
        left = off - ways @ steps
        spread = max(1.4826 * float(np.median(np.abs(left[used]))), _SAME_PX)
        far = np.minimum(np.abs(left) / (_AGREE * spread), 1.0)
        own = weight * (1.0 - far**2) ** 2
    return _Agreed(steps, left, own, used & (far < 1.0))


def _edge_fit(
    arcs: Arcs,
    ways: np.ndarray,
    agreed: _Agreed,
    read: _Read,
    found: tuple[np.ndarray, float, float],
) -> EdgeFit:
    agree, own = agreed.agree, agreed.own
    count = int(np.count_nonzero(agree))
    variance = float((agreed.left[agree] ** 2).sum()) / max(count - 3, 1) * _UNFELT
    inverse = np.linalg.inv((ways * own[:, None]).T @ ways + _HOLD)
    # Arcs err alike, whatever the weight they are given.
    said = (ways * own[:, None] ** 2).T @ ways * variance + (_HOLD @ _BEFOREHAND_PX) ** 2
    covariance = inverse @ said @ inverse
    (row, col), growth, width = found
    lengths = arcs.lengths()
    return EdgeFit(
        row_px=float(row),
        col_px=float(col),
        covariance=covariance[:2, :2],
        growth_px=growth,
        support=float((lengths * agree * np.minimum(2.0 * read.good, 1.0)).sum() / lengths.sum()),
        width_px=width,
        step=float(np.median(read.ratio[agree])),
        contrast=float(np.median(read.size[agree])),
        misfit=float(np.median(read.misfit[agree])),
        told=_told(ways[:, :2], read.shows, agree),
        outside=read.outside,
    )


def _told(normals: np.ndarray, shows: np.ndarray, agree: np.ndarray) -> float:
    """EdgeFit.told of A arcs: a stroke's place along itself hangs on the arcs at its two ends,
    whatever its sides agree on."""
    _, directions = np.linalg.eigh(normals[agree].T @ normals[agree])
    tells = (normals @ directions[:, 0]) ** 2
    agreed, all_of_them = float(tells[agree].sum()), float(tells[shows].sum())
    if agreed < _LONE:
        return 0.0
    return 1.0 if agreed >= _ENOUGH else agreed / max(all_of_them, agreed)
