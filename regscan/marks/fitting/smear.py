"""A mark whose ink runs over on one side: slurred behind its trailing edge, or printed twice.

Ink beyond one edge pulls a fit of the design toward it, though neither the plate nor the web
is where it points. Here the same fit is made with that ink as parts of its own, so the place
comes from the edges that are clean, at the price of some doubt. The better reading is kept
only where the pixels ask for it.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from regscan.marks.doubt import Slurring, Wander
from regscan.marks.fitting.fit import Fit, fits_of
from regscan.marks.fitting.looks import near_enough, seen_by
from regscan.marks.fitting.reading import Laid, Patch, Reading, read, side_by_side
from regscan.marks.fitting.solve import solve, summed, trust_in
from regscan.marks.fitting.tail import (
    COARSE,
    FINE,
    Agreed,
    Tail,
    agreed,
    fades,
    may_fade,
    most_gained,
    tails_of,
)
from regscan.marks.shape.template import Appearance, Template

_ROUNDS = 5
_MOST_LOOKS = 3
_ALL = slice(None)
_GAIN = 7.0  # least drop of the squared misfit, in units of noise as rough edges feel it
_LIKELY = 0.8  # of that, of what some of the places gain
_TURNS = (-0.24, -0.16, -0.08, 0.0, 0.08, 0.16, 0.24)  # radians, of a second print's way off
_MISFIT_LEFT = 0.88  # of the edge's misfit: specks and holes are not explained by a tail
_SEEMS = 0.04  # of what is left along the edge; in the end 1 - _MISFIT_LEFT^2, 0.23, has to go
_STAYS = 0.1  # of what taking a smear out moved the centre, one sigma
_TAKEN_UP = 1.4  # what rough edges add to the variance, over what is still seen of it


@dataclass(frozen=True, slots=True)
class Smear:
    """Ink beyond the edges that face `along` (a step of 1 px, rows and columns).

    fit    the fit without it;   gain   how much better that explains the pixels.
    template, look   what it was made with.
    moved  (row, col) px, how far taking it out moved the centre.
    unsure (row, col) px, one sigma, of not knowing how it fades.
    slur   whether it fades as slur does, or as well may.
    """

    along: tuple[float, float]
    fit: Fit
    gain: float
    moved: tuple[float, float]
    unsure: tuple[float, float]
    slur: bool
    template: Template
    look: Appearance

    def widened(self) -> Wander:
        """The clean fit's doubt with what taking the smear out adds to it.

        Where a smear fades in none of the ways tried, a share of it stays in the place; and its
        parts take up some of what rough edges would show.
        """
        wander = self.fit.wander
        row, col = (math.hypot(_STAYS * m, u) for m, u in zip(self.moved, self.unsure, strict=True))
        pull = math.copysign(row, self.moved[0]), math.copysign(col, self.moved[1])
        ratio = 1.0 + _TAKEN_UP * (wander.ratio - 1.0)
        growth = replace(wander.growth, leans=True)
        slur = Slurring(self.along, self.moved, self.gain) if self.slur else None
        return replace(wander, ratio=ratio, pull=pull, growth=growth, slur=slur)


@dataclass(frozen=True, slots=True)
class Drawn:
    """Templates of a mark, and the look that others of its frame have: a smear makes a mark
    seem softer and larger than it is."""

    of: Callable[[Appearance], Template]
    usual: Appearance


def seem_smeared(fits: Sequence[tuple[Fit, tuple[float, float]]]) -> list[bool]:
    """Whether fitted marks ask for a tail, more than rough edges would.

    fits   each with a step of 1 px toward the trailing edge, (rows, cols) px.
    """
    # Some of the places first: of all of them chance seldom makes as much, but they take longer.
    asked = _gain_enough(fits, thin=True) if fits else []
    return [
        more and _gain_enough([one], thin=False)[0] for more, one in zip(asked, fits, strict=True)
    ]


def _gain_enough(fits: Sequence[tuple[Fit, tuple[float, float]]], *, thin: bool) -> list[bool]:
    """Whether all places, or the thin ones, gain as much by some tail as they should."""
    rows, facings, weights, least = [], [], [], []
    for fit, late in fits:
        seen = fit.read
        laid = seen.laid[0]
        places = laid.template.thin if thin else _ALL
        rows.append(seen.rows[0][:, places])
        weights.append(seen.usable[0, places])
        share = float(np.count_nonzero(weights[-1])) / max(int(np.count_nonzero(seen.usable)), 1)
        along_edge = (fit.misfit * fit.contrast) ** 2 * float(seen.usable[0] @ seen.stack.edge[0])
        least.append(share * max(_LIKELY * _GAIN * _unit(fit), _SEEMS * along_edge))
        moved = laid.template.facing_near if thin else laid.template.facing_at
        ways = [moved(*laid.at, way, COARSE.far_px) for way in (late, _opposite(late))]
        facings.append(np.concatenate(ways))
    gained = most_gained(*map(side_by_side, (rows, facings, weights)))
    return [more > needed for more, needed in zip(gained, least, strict=True)]


def _opposite(way: tuple[float, float]) -> tuple[float, float]:
    return -way[0], -way[1]


def smear_of(patch: Patch, drawn: Drawn, fit: Fit, late: tuple[float, float]) -> Smear | None:
    """The smear of a fitted mark that seems to have one; None where the pixels do not ask for it.

    late   as above: slur lies on that side only, a second print on either.
    """
    ways = late, _opposite(late)
    # With a softness of its own, a tail on either side may explain one on the other.
    template, at = drawn.of(drawn.usual), (fit.row_px, fit.col_px)
    slur, bounce = (_settled(patch, template, at, way, trailing=way == late) for way in ways)
    # Short ones explain as much: it is then slur, which is common.
    slurred = slur and (not bounce or slur.left < bounce.left + _GAIN * _unit(bounce.fit))
    if not (slur or bounce):
        return None
    smear = _reading(patch, drawn, fit, ways[0 if slurred else 1], trailing=bool(slurred))
    clear = smear and smear.gain > _GAIN and smear.fit.misfit < _MISFIT_LEFT * fit.misfit
    return smear if clear else None


def smear_like(patch: Patch, drawn: Drawn, fit: Fit, along: tuple[float, float]) -> Smear | None:
    """The smear of a mark among others that are slurred that way, though by itself it hardly
    asks for one; None where it asks for none.

    Where all edges lean the same way to the web, as a diamond's do, a slur looks nearly like
    growth and a shift.
    """
    smear = _reading(patch, drawn, fit, along, trailing=True)
    return smear if smear and smear.gain > 0.0 else None


def _reading(
    patch: Patch, drawn: Drawn, fit: Fit, along: tuple[float, float], *, trailing: bool
) -> Smear | None:
    look, at = drawn.usual, (fit.row_px, fit.col_px)
    for _ in range(_MOST_LOOKS):
        template = drawn.of(look)
        settled = _settled(patch, template, at, along, trailing=trailing)
        if settled is None:
            return None
        found = settled
        clean, tails, gain = found.fit, found.tails, found.gain
        at = clean.row_px, clean.col_px
        if near_enough(look, clean):
            break
        look = seen_by(look, clean).rounded()
    unit = _unit(clean)
    ways = agreed(tails, unit)
    slur = may_fade(tails, _GAIN * unit)
    if not fades(tails, unit) and (askew := _askew(patch, template, found, along)):
        clean, gain, slur = askew.fit, askew.gain, False
    else:
        clean = _agreeing(clean, ways)
    moved = clean.row_px - fit.row_px, clean.col_px - fit.col_px
    return Smear(along, clean, gain, moved, ways.unsure, slur, template, look)


def _askew(
    patch: Patch, template: Template, found: "_Settled", along: tuple[float, float]
) -> "_Settled | None":
    """The fit with a second print that lies a little to one side as well; None where that
    explains no more."""
    at = found.fit.row_px, found.fit.col_px
    tried = [_settled(patch, template, at, _turned(along, turn), trailing=False) for turn in _TURNS]
    left = [one.left if one else math.inf for one in tried]
    lowest = int(np.argmin(left))
    best, straight = tried[lowest], tried[len(_TURNS) // 2]
    if not (best and straight and best.left < straight.left - _GAIN * _unit(best.fit)):
        return None
    turn = _TURNS[lowest]
    if 0 < lowest < len(_TURNS) - 1 and max(left[lowest - 1], left[lowest + 1]) < math.inf:
        before, middle, after = left[lowest - 1 : lowest + 2]
        bend = max(before - 2.0 * middle + after, 1e-18)
        turn += 0.5 * (before - after) / bend * (_TURNS[1] - _TURNS[0])
    between = _settled(patch, template, at, _turned(along, turn), trailing=False)
    return between if between and between.left < best.left else best


def _turned(along: tuple[float, float], turn: float) -> tuple[float, float]:
    """A step turned in the picture, radians."""
    row, col = along
    return (
        row * math.cos(turn) - col * math.sin(turn),
        row * math.sin(turn) + col * math.cos(turn),
    )


@dataclass(frozen=True, slots=True)
class _Settled:
    """A fit without the tail that explains most; all tails, best first; by how much that explains
    more, in units of what noise leaves of one place, and the weighted squares it leaves."""

    fit: Fit
    tails: list[Tail]
    gain: float
    left: float


def _settled(
    patch: Patch,
    template: Template,
    at: tuple[float, float],
    along: tuple[float, float],
    *,
    trailing: bool,
) -> _Settled | None:
    trust: np.ndarray | None = None
    for again in range(_ROUNDS):
        seen = read([Laid(patch, template, at)])
        weight = seen.usable if trust is None else seen.usable * trust
        facing = template.facing_at(*at, along, FINE.far_px)
        tails = tails_of(seen.rows[0], facing, weight[0], trailing=trailing)
        if not tails:
            return None
        parts = tails[0].parts(facing)
        tailed = _with_parts(seen, parts[:1])
        solution = solve(tailed, weight, summed(tailed, weight))
        clean = fits_of(solution, seen)[0]
        at = clean.row_px, clean.col_px
        if clean.converged and again:
            break
        trust = trust_in(tailed, solution.residual, solution.theta[:, 3])
    if not clean.converged:
        return None
    plain = solve(seen, weight, summed(seen, weight))
    left = float(solution.left[0])
    freed = _with_parts(seen, parts)
    clean = _as_unsure_as(clean, fits_of(solve(freed, weight, summed(freed, weight)), seen)[0])
    return _Settled(clean, tails, (float(plain.left[0]) - left) / _unit(clean), left)


def _agreeing(fit: Fit, ways: Agreed) -> Fit:
    """The fit of the tail that explains most, moved to what all say."""
    row, col = ways.shift
    growth = replace(fit.wander.growth, px=fit.wander.growth.px + ways.grown)
    wander = replace(fit.wander, growth=growth)
    return replace(fit, row_px=fit.row_px + row, col_px=fit.col_px + col, wander=wander)


def _as_unsure_as(fit: Fit, other: Fit) -> Fit:
    """A fit with the doubt of another, in which more was left open."""
    growth = replace(other.wander.growth, px=fit.wander.growth.px)
    return replace(
        fit,
        row_var=other.row_var,
        col_var=other.col_var,
        row_col_covar=other.row_col_covar,
        wander=replace(other.wander, growth=growth),
    )


def _unit(clean: Fit) -> float:
    """Squares that noise leaves of one place, as rough edges feel it."""
    return max(clean.noise**2 * max(clean.wander.ratio, 1.0), 1e-18)


def _with_parts(seen: Reading, parts: np.ndarray) -> Reading:
    """The reading of one mark with more parts."""
    return replace(seen, rows=np.concatenate([seen.parts[0], parts, seen.light])[None])
