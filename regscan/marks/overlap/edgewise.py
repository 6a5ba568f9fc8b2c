"""Edgewise: a mark's place from its outline, piece by piece, whatever else is printed there.

Where artwork or other marks lie over or under a mark, no picture of the whole can be
known beforehand. But wherever the mark's outline shows, the light steps from what is
beside the mark to what its ink makes of that. So the outline is cut into short arcs;
each has its own colours on either side, is judged for being that ink's step, and says
by how much the edge lies off there. The mark is where most of its arcs agree.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg.lapack import dposv

from regscan.marks.overlap.profiles import (
    MISFIT,
    Reading,
    astray,
    middle_of,
    profiles,
    read,
)
from regscan.marks.seeing.inkstep import InkStep
from regscan.marks.seeing.piece import Piece
from regscan.marks.shape.arcs import Arcs

_NEAR_PX = 1.0  # an edge no further off is the one meant
_ROUNDS = 12
_LONGEST_STEP_PX = 2.0
_STILL_PX = 0.03  # the step is made all the same, and leaves a tenth of it
_FEWEST = 6  # arcs that can agree on three numbers
_FEWEST_FIRST = 4  # arcs that can lead the way: more are read once they lie near their edges
# Arcs that tell one direction: fewer confirm nothing, or are too many to be alike by chance.
_LONE, _ENOUGH = 1.5, 4.0
_AGREE = 3.5  # sd
_MOST_TURNS, _AGREED_PX = 5, 0.003  # of weighing arcs; a tenth of the step that is left undone
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
    inside, outside   A x C, light on either side of every arc.
    agree        A bool, whether it is one of those that agree.
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
    inside: np.ndarray
    outside: np.ndarray
    agree: np.ndarray


def fit_edges(
    piece: Piece,
    arcs: Arcs,
    ink: InkStep,
    place: tuple[float, float],
    width_px: float,
    grown: tuple[float, float] | None = None,
) -> EdgeFit | None:
    """The mark within a few px of a place; None where too few arcs agree on one.

    grown   its growth, px, and the variance of that, where other marks tell it.
    """
    if arcs.count < _FEWEST:
        return None
    ways, lengths = arcs.normals, arcs.lengths
    if grown is None:
        ways = np.column_stack([ways, arcs.spreads])
    centre, growth, width = np.array(place), grown[0] if grown else 0.0, width_px
    aside, profile = astray(piece, arcs, centre, growth, width)
    for _ in range(_ROUNDS):
        said = read(profile, width, ink)
        weight = lengths * said.good
        if np.count_nonzero(weight) < _FEWEST_FIRST:
            return None
        agreed = _agreed(ways, aside + said.off, weight)
        steps = agreed.steps
        centre = centre + np.clip(steps[:2], -_LONGEST_STEP_PX, _LONGEST_STEP_PX)
        if grown is None:
            growth = _within(growth + float(steps[2]), -_MOST_GROWTH_PX, _MOST_GROWTH_PX)
        width = _within(width * (1.0 + _within(said.wider, -0.3, 0.3)), *_WIDTHS_PX)
        if _elsewhere(agreed, growth, width):
            return None  # what is no outline after the first look will not be one
        if float(np.abs(steps).max()) < _STILL_PX and not aside.any():
            break
        aside, profile = np.zeros(arcs.count), profiles(piece, arcs, centre, growth)
    fit = _edge_fit(arcs, ways, agreed, said, (centre, growth, width))
    if grown is None:
        return fit
    # How the place would follow another growth.
    held = np.linalg.inv((ways * agreed.own[:, None]).T @ ways + _hold(ways))
    follows = held @ (ways.T @ (agreed.own * arcs.spreads))
    return replace(fit, covariance=fit.covariance + grown[1] * np.outer(follows, follows))


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
    said = read(profiles(piece, arcs, place, 0.0), width_px, ink)
    visible = ink.visible(said.outside)
    clear = visible & (said.misfit < MISFIT)
    shown = clear & _shown(said)
    return Witness(*(int(np.count_nonzero(which)) for which in (visible, clear, shown)))


def shown_at(
    piece: Piece, arcs: Arcs, ink: InkStep, place: tuple[float, float], width_px: float
) -> tuple[np.ndarray, np.ndarray]:
    """Light inside and outside the arcs, S x C each, that show an ink's edge at a place."""
    said = read(profiles(piece, arcs, place, 0.0), width_px, ink)
    shown = _shown(said)
    return said.inside[shown], said.outside[shown]


def _shown(said: Reading) -> np.ndarray:
    """A bool, whether arcs show their ink's edge where it should be."""
    return np.asarray((said.good > 0.0) & (np.abs(said.off) < _NEAR_PX))


@dataclass(frozen=True, slots=True)
class _Agreed:
    """Steps (row, col and, where it is not known, growth) that most arcs agree on; A left, what
    each is off from them, px; own, A, the weight each was given; agree, A bool."""

    steps: np.ndarray
    left: np.ndarray
    own: np.ndarray
    agree: np.ndarray


def _agreed(ways: np.ndarray, off: np.ndarray, weight: np.ndarray) -> _Agreed:
    used, own, hold = weight > 0.0, weight, _hold(ways)
    count = ways.shape[1]
    products = np.column_stack([ways, off])[:, :, None] * ways[:, None, :]
    products = products.reshape(len(ways), -1)
    steps = np.full(count, math.inf)
    for _ in range(_MOST_TURNS):
        sums = (own @ products).reshape(count + 1, count)
        before = steps
        # Of three unknowns, most of what a checked solver does is checking.
        _, steps, _ = dposv(sums[:count] + hold, sums[count])
        left = off - ways @ steps
        size = np.abs(left)
        spread = max(1.4826 * middle_of(size[used]), _SAME_PX)
        far = np.minimum(size / (_AGREE * spread), 1.0)
        own = weight * (1.0 - far**2) ** 2
        if np.abs(steps - before).max() < _AGREED_PX:
            break
    return _Agreed(steps, left, own, used & (far < 1.0))


def _within(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)


def _elsewhere(agreed: _Agreed, growth_px: float, width_px: float) -> bool:
    """Whether what agrees is not the outline sought."""
    few = np.count_nonzero(agreed.agree) < _FEWEST
    return bool(few) or abs(growth_px) >= _MOST_GROWTH_PX or width_px >= _WIDTHS_PX[1]


def _edge_fit(
    arcs: Arcs,
    ways: np.ndarray,
    agreed: _Agreed,
    said: Reading,
    found: tuple[np.ndarray, float, float],
) -> EdgeFit:
    agree, own = agreed.agree, agreed.own
    count = int(np.count_nonzero(agree))
    variance = float((agreed.left[agree] ** 2).sum()) / max(count - 3, 1) * _UNFELT
    hold = _hold(ways)
    inverse = np.linalg.inv((ways * own[:, None]).T @ ways + hold)
    # Arcs err alike, whatever the weight they are given.
    told = (ways * own[:, None] ** 2).T @ ways * variance + (
        hold @ _hold(ways, _BEFOREHAND_PX)
    ) ** 2
    covariance = inverse @ told @ inverse
    (row, col), growth, width = found
    lengths = arcs.lengths
    return EdgeFit(
        row_px=float(row),
        col_px=float(col),
        covariance=covariance[:2, :2],
        growth_px=growth,
        support=float((lengths * agree * np.minimum(2.0 * said.good, 1.0)).sum() / lengths.sum()),
        width_px=width,
        step=middle_of(said.ratio[agree]),
        contrast=middle_of(said.size[agree]),
        misfit=middle_of(said.misfit[agree]),
        told=_told(ways[:, :2], said.shows, agree),
        inside=said.inside,
        outside=said.outside,
        agree=agree,
    )


def _hold(ways: np.ndarray, of: np.ndarray = _HOLD) -> np.ndarray:
    """As much of it as ways (A x 2 or 3) ask for."""
    return of[: ways.shape[1], : ways.shape[1]]


def _told(normals: np.ndarray, shows: np.ndarray, agree: np.ndarray) -> float:
    """EdgeFit.told of A arcs: a stroke's place along itself hangs on the arcs at its two ends,
    whatever its sides agree on."""
    _, directions = np.linalg.eigh(normals[agree].T @ normals[agree])
    tells = (normals @ directions[:, 0]) ** 2
    agreed, all_of_them = float(tells[agree].sum()), float(tells[shows].sum())
    if agreed < _LONE:
        return 0.0
    return 1.0 if agreed >= _ENOUGH else agreed / max(all_of_them, agreed)
