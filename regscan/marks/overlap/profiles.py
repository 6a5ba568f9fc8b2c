"""Profiles: light across a mark's outline, arc by arc, and what it says of the edge there.

Every arc's profile is explained by two colours, one inside and one outside, and a soft edge
between them; what is left along their difference says how far off the edge lies and how much
softer it is.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from regscan.marks.seeing.inkstep import InkStep
from regscan.marks.seeing.piece import Piece
from regscan.marks.shape.arcs import Arcs

_PITCH_PX = 0.5
_REACH_PX = 5.0  # of a profile to either side
_STEPS = round(2.0 * _REACH_PX / _PITCH_PX) + 1
_ACROSS_PX = np.arange(_STEPS) * _PITCH_PX - _REACH_PX  # out being positive
_ASTRAY_PX = 3  # edges are looked for that far off, pixel by pixel
_WIDTH_DIGITS = 2  # of a width, px: what is asked of profiles hardly changes with more
MOST_OFF_PX = 2.5  # what a profile can say of its edge: further off it is not read
MISFIT = 0.06  # rms left of an arc's profile over its step, where trust begins to go
_TIMES_USUAL, _LEAST_MISFIT = 2.0, 0.02  # or over that of most arcs, where that is less


@dataclass(frozen=True, slots=True)
class Reading:
    """What A arcs' profiles say.

    off      how far out their edge lies, px.   shows   bool, the ink's step.
    good     0..1.   wider   relative, of all.
    ratio    the ink's step over the expected.   size   of the step.   misfit   rms left over it.
    inside, outside   A x C, light on either side of the edge.
    """

    off: np.ndarray
    shows: np.ndarray
    good: np.ndarray
    wider: float
    ratio: np.ndarray
    size: np.ndarray
    misfit: np.ndarray
    inside: np.ndarray
    outside: np.ndarray


def profiles(
    piece: Piece,
    arcs: Arcs,
    centre: Sequence[float] | np.ndarray,
    growth_px: float,
    further_px: int = 0,
) -> np.ndarray:
    """A x C x T, light across each arc of an outline that lies growth_px outside the design's.

    further_px   how much further than usual on both sides.
    """
    more = round(further_px / _PITCH_PX)
    across = (np.arange(_STEPS + 2 * more) - more) * _PITCH_PX - _REACH_PX
    across = across.astype(np.float32)
    rows, cols = (
        (point + (np.float32(place) + np.float32(growth_px) * spread)) + across * out
        for point, spread, out, place in zip(
            arcs.points_by_axis, arcs.spread_by_axis, arcs.outward_by_axis, centre, strict=True
        )
    )
    return np.ascontiguousarray(arcs.means(piece.at(rows, cols)).transpose(0, 2, 1))


def astray(
    piece: Piece,
    arcs: Arcs,
    centre: Sequence[float] | np.ndarray,
    growth_px: float,
    width_px: float,
) -> tuple[np.ndarray, np.ndarray]:
    """(A whole px that each arc's edge lies further out, A x C x T profiles about it): where
    one edge explains most of its profile. Further off than it is soft, an edge cannot be read
    as a small move."""
    wide = profiles(piece, arcs, centre, growth_px, _ASTRAY_PX)
    here = np.arange(_STEPS)
    middle = _finite(wide[:, :, here + round(_ASTRAY_PX / _PITCH_PX)])[0]
    explained = np.square(middle.reshape(-1, _STEPS) @ _edges(width_px))
    explained = explained.reshape(len(wide), -1, 2 * _ASTRAY_PX + 1, 2).sum(axis=(1, 3))
    best = explained.argmax(axis=1)
    which = here + round(1.0 / _PITCH_PX) * best[:, None]
    return best - _ASTRAY_PX, np.take_along_axis(wide, which[:, None, :], axis=2)


@lru_cache(maxsize=8)
def _edges(width_px: float) -> np.ndarray:
    """T x 2 for each whole px that an edge may be off by: what spans all profiles with it."""
    shifts = np.arange(-_ASTRAY_PX, _ASTRAY_PX + 1)
    spans = [np.linalg.qr(_sides(_ACROSS_PX - s, width_px))[0] for s in shifts]
    return np.hstack(spans).astype(np.float32)


def read(lines: np.ndarray, width_px: float, ink: InkStep) -> Reading:
    """What profiles (A x C x T, inside first) say of edges of some softness."""
    asked = _asked(round(width_px, _WIDTH_DIGITS))
    lines, known = _finite(lines)
    # One product for all: the two colours, and what is left along a move and a softening.
    told = (lines.reshape(-1, _STEPS) @ asked.solve).reshape(*lines.shape[:2], 4)
    inside, outside = told[:, :, 0], told[:, :, 1]
    step = inside - outside
    size2 = np.einsum("ac,ac->a", step, step) + 1e-12
    off, wider = (np.einsum("ac,ac->a", step, told[:, :, k]) / size2 for k in (2, 3))
    left = lines - (told[:, :, :2].reshape(-1, 2) @ asked.sides).reshape(lines.shape)
    # Along the step, its move and softening explain a part; aside from it nothing does.
    unexplained = np.einsum("act,act->a", left, left) / size2
    unexplained -= off**2 * asked.move2 + wider**2 * asked.soften2
    misfit = np.sqrt(np.maximum(unexplained, 0.0) / _STEPS)
    shows, ratio = ink.shown(inside, outside)
    seen = shows & known
    usual = middle_of(misfit[seen]) if seen.any() else 0.0
    limit = min(max(_TIMES_USUAL * usual, _LEAST_MISFIT), MISFIT)
    good = seen * np.clip(2.0 - misfit / limit, 0.0, 1.0)
    sure = good > 0.5
    wide = middle_of(wider[sure]) / width_px if sure.any() else 0.0
    off = np.clip(off, -MOST_OFF_PX, MOST_OFF_PX)
    return Reading(off, seen, good, wide, ratio, np.sqrt(size2), misfit, inside, outside)


def _finite(lines: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(profiles with none where they leave the piece, which do not: A bool)."""
    known = np.isfinite(lines.sum(axis=(1, 2)))
    return (lines if known.all() else np.where(known[:, None, None], lines, 0.0)), known


@dataclass(frozen=True, slots=True)
class _Asked:
    """What is asked of profiles across an edge of some softness, float32.

    sides     2 x T shares of the two colours in a profile.
    solve     T x 4: gives these colours, how far a step of 1 has moved out, px, and how much
              softer it is. Moves and softenings are counted beyond what the colours take up,
              and the one is even, the other odd: none of the four has a part in another.
    move2, soften2   what a move by 1 px, and softening by 1, add to the profile, squared.
    """

    sides: np.ndarray
    solve: np.ndarray
    move2: float
    soften2: float


@lru_cache(maxsize=512)
def _asked(width_px: float) -> _Asked:
    sides = _sides(_ACROSS_PX, width_px)
    solve = np.linalg.solve(sides.T @ sides, sides.T)
    slope = np.exp(-0.5 * (_ACROSS_PX / width_px) ** 2) / (width_px * math.sqrt(2.0 * math.pi))
    move, soften = (
        part - sides @ (solve @ part) for part in (slope, _ACROSS_PX * slope / width_px)
    )
    move2, soften2 = float(move @ move), float(soften @ soften)
    ways = np.column_stack([*solve, move / move2, soften / soften2])
    return _Asked(
        np.ascontiguousarray(sides.T, np.float32), ways.astype(np.float32), move2, soften2
    )


def _sides(across: np.ndarray, width_px: float) -> np.ndarray:
    """T x 2, shares of the inner and of the outer colour across a soft edge at 0."""
    outer = 0.5 * np.array([math.erfc(-t / (width_px * math.sqrt(2.0))) for t in across.tolist()])
    return np.stack([1.0 - outer, outer], axis=1)


def middle_of(values: np.ndarray) -> float:
    """The value in the middle, of an even number the larger: numpy's median takes ten times as
    long over a few."""
    half = values.size // 2
    return float(np.partition(values, half)[half])
