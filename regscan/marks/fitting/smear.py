"""A mark whose ink runs over on one side: slurred behind its trailing edge, or printed twice.

Ink beyond one edge pulls a fit of the design toward it, though neither the plate nor the web
is where it points. Here the same fit is made with that ink as parts of its own, so the place
comes from the edges that are clean, at the price of some doubt. The better reading is kept
only where the pixels ask for it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from regscan.marks.doubt import Wander
from regscan.marks.fitting.fit import Fit, fits_of
from regscan.marks.fitting.reading import Laid, Patch, Reading, read
from regscan.marks.fitting.solve import Solution, ridged, solve, summed, trust_in
from regscan.marks.shape.planes import SKIRTS
from regscan.marks.shape.template import PARTS, Template

_ROUNDS = 5
_GAIN = 7.0  # least drop of the squared misfit, in units of noise as rough edges feel it
_MISFIT_LEFT = 0.88  # of the edge's misfit: specks and holes are not explained by a skirt
_BLIND = 4.0  # a smear costs such a shape this factor of the centre's variance
_LEAST_INK = 0.01  # of the mark's contrast, on average over the skirt
_STAYS = 0.3  # of what taking a smear out moved the centre, one sigma
_TAKEN_UP = 2.0  # what rough edges add to the variance, over what is still seen of it


@dataclass(frozen=True, slots=True)
class Smear:
    """Ink beyond the edges that face `along` (a step of 1 px, rows and columns).

    fit    the fit without it;   gain   how much better that explains the pixels.
    moved  (row, col) px, how far taking it out moved the centre.
    """

    along: tuple[float, float]
    fit: Fit
    gain: float
    moved: tuple[float, float]

    def widened(self) -> Wander:
        """The clean fit's doubt with what taking the smear out adds to it.

        Where the profile of a smear is not quite a sum of the skirt's parts, a share of it
        stays in the place; and the parts take up some of what rough edges would show.
        """
        wander = self.fit.wander
        pull = _STAYS * self.moved[0], _STAYS * self.moved[1]
        ratio = 1.0 + _TAKEN_UP * (wander.ratio - 1.0)
        return replace(wander, ratio=ratio, pull=pull, smeared=self.along, moved=self.moved)


def smear_of(patch: Patch, template: Template, fit: Fit, late: tuple[float, float]) -> Smear | None:
    """The smear of a fitted mark; None where the pixels do not ask for one.

    late   (rows, cols) px, a step of 1 px toward the trailing edge: slur lies on that side
           only, a second print on either.
    """
    ways = _worth_a_look(template, fit, (late, (-late[0], -late[1])))
    readings = [_reading(patch, template, fit, along) for along in ways]
    found = [
        smear
        for smear in readings
        if smear and smear.gain > _GAIN and smear.fit.misfit < _MISFIT_LEFT * fit.misfit
    ]
    return max(found, key=lambda smear: smear.gain, default=None)


def _worth_a_look(
    template: Template, fit: Fit, ways: Sequence[tuple[float, float]]
) -> list[tuple[float, float]]:
    """The ways on whose side some of the places show ink beyond the edge."""
    thin, seen = template.thin, fit.read
    skirts = [template.skirt_at(*seen.laid[0].at, along, thin) for along in ways]
    parts = np.concatenate([seen.parts[0][:, thin], *skirts, seen.light[:, thin]])
    products = (parts * seen.usable[0, thin]) @ parts.T
    places = np.arange(len(products))
    found = []
    for number, along in enumerate(ways):
        first = PARTS + number * SKIRTS
        own = (places < PARTS) | ((places >= first) & (places < first + SKIRTS))
        theta = np.linalg.solve(ridged(products[own][:, own]), products[own, -1])
        if _ink(theta) > _LEAST_INK / 2.0:
            found.append(along)
    return found


def smear_like(
    patch: Patch, template: Template, fit: Fit, along: tuple[float, float]
) -> Smear | None:
    """The smear of a mark among others that are smeared that way; None for a shape that
    would have shown its own.

    Where all edges lean the same way to the web, as a diamond's do, a smear looks nearly
    like growth and a shift, so such a mark never asks for it by itself.
    """
    return _reading(patch, template, fit, along) if template.blindness(along) > _BLIND else None


def _reading(
    patch: Patch, template: Template, fit: Fit, along: tuple[float, float]
) -> Smear | None:
    at = fit.row_px, fit.col_px
    trust: np.ndarray | None = None
    for _ in range(_ROUNDS):
        seen = read([Laid(patch, template, at)])
        usable = seen.usable
        skirted = _skirted(seen, along)
        weight = usable if trust is None else usable * trust
        solution = solve(skirted, weight, summed(skirted, weight))
        if _ink(solution.theta[0]) < _LEAST_INK:
            return None
        trust = trust_in(skirted, solution.residual, solution.theta[:, 3])
        clean = fits_of(solution, seen)[0]
        at = clean.row_px, clean.col_px
        if clean.converged and weight is not usable:
            break
    if not clean.converged:
        return None
    plain = solve(seen, weight, summed(seen, weight))
    unit = clean.noise**2 * max(clean.wander.ratio, 1.0)
    gain = (_left(plain) - _left(solution)) / max(unit, 1e-18)
    return Smear(along, clean, gain, (clean.row_px - fit.row_px, clean.col_px - fit.col_px))


def _skirted(seen: Reading, along: tuple[float, float]) -> Reading:
    """The reading of one mark with the ink beyond its edge as parts of its own."""
    (laid,) = seen.laid
    skirt = laid.template.skirt_at(*laid.at, along)
    return replace(seen, rows=np.concatenate([seen.parts[0], skirt, seen.light])[None])


def _ink(theta: np.ndarray) -> float:
    """Ink in the skirt, on average, as a share of the mark's contrast."""
    return float(theta[PARTS:].mean()) / (float(theta[3]) or 1e-12)


def _left(solution: Solution) -> float:
    return float((solution.weight * solution.residual * solution.residual).sum())
