"""The linear part of a fit: least squares, whom to trust, and how slopes of light hang together."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regscan.marks.doubt import Growth, LeaveOut, Sums, Wander, upper_spread
from regscan.marks.shape.template import PARTS, Template

_LEAST_SPREAD = 0.005  # of the contrast: the model itself is no better than that
_REJECT = 4.5  # residuals beyond this many sigmas start to lose weight
FREE = np.eye(PARTS)


@dataclass(frozen=True, slots=True)
class Rough:
    """theta of the 11 parts from a few places; their normal matrix; weighted squares left."""

    theta: np.ndarray
    normal: np.ndarray
    square_sum: float


@dataclass(frozen=True, slots=True)
class Solution:
    """theta of the parts; inverse of their normal matrix; what is left over.

    free   the P parts that were free;   bond   how all parts hang on them.
    sums   of the places, sector by sector.
    """

    theta: np.ndarray
    free: np.ndarray
    inverse: np.ndarray
    sums: Sums
    residual: np.ndarray
    weight: np.ndarray
    noise: float
    bond: np.ndarray


def shift_of(theta: np.ndarray, softening: list[list[float]]) -> tuple[float, float]:
    """The shift in px, kept to one pixel a round: further the picture is not linear.

    The shift planes are those of the template's blur. Where the picture is softer
    or sharper, or the shift is not quite small, they answer a little less or more:
    the cross terms of the Taylor series, to first order.
    """
    contrast = float(theta[3]) or 1e-12
    raw = float(theta[4]) / contrast, float(theta[5]) / contrast
    softer = [min(max(float(part) / contrast, -2.0), 2.0) for part in theta[6:8]]
    shift = []
    for axis in (0, 1):
        own = softening[axis]
        answer = 1.0 + own[0] * softer[0] + own[1] * softer[1] + own[axis] * raw[axis] ** 2 / 3.0
        moved = raw[axis] / min(max(answer, 0.5), 2.0)
        shift.append(min(max(moved, -1.0), 1.0))
    return shift[0], shift[1]


def solve(
    design: np.ndarray,
    light: np.ndarray,
    weight: np.ndarray,
    bond: np.ndarray,
    sectors: Sequence[slice],
) -> Solution:
    """Weighted least squares of the parts that the bond leaves free."""
    sums = Sums.of(design, weight, light, sectors)
    normal, moment = sums.normals.sum(axis=0), sums.moments.sum(axis=0)
    own = np.linalg.inv(ridged(bond.T @ normal @ bond))
    free = own @ (bond.T @ moment)
    theta = bond @ free
    residual = light - design @ theta
    freedom = max(float(np.count_nonzero(weight)) - design.shape[1], 1.0)
    noise = math.sqrt(float(weight @ (residual * residual)) / freedom)
    return Solution(theta, free, bond @ own @ bond.T, sums, residual, weight, noise, bond)


def rough_of(design: np.ndarray, light: np.ndarray, weight: np.ndarray) -> Rough:
    """Weighted least squares of a few places, with all parts free."""
    parts = np.ascontiguousarray(design.T)  # every fourth place is no form that BLAS takes
    weighted = parts * weight
    normal, moment = weighted @ parts.T, weighted @ light
    theta = np.linalg.solve(ridged(normal), moment)
    left = max(float(weight @ (light * light) - theta @ moment), 0.0)
    return Rough(theta, normal, left)


def ridged(normal: np.ndarray) -> np.ndarray:
    """A trace of ridge keeps a part that the pixels say nothing about from blowing up."""
    ridged = normal.copy()
    diagonal = ridged.ravel()[:: len(ridged) + 1]  # a view: changing it changes the copy
    diagonal += 1e-9 * diagonal.max()
    return ridged


def slope_bond(free: Rough) -> np.ndarray:
    """How the light's slope on the ink hangs on its slope on the paper: 11 x 9 or 11 x 11.

    Light that falls off dims ink in proportion to what it reflects; stray light
    adds the same to both. Where one of the two explains the pixels, the ink's
    slope follows the paper's and costs no accuracy; else it stays free.
    """
    theta, normal, square_sum = free.theta, free.normal, free.square_sum
    slope, on_ink = theta[1:3], theta[9:11]
    square = float(slope @ slope)
    if theta[0] <= 0.0 or square == 0.0:
        return FREE
    share = float(on_ink @ slope) / square
    know = math.sqrt(square_sum / max(float(normal[9:11, 9:11].trace()), 1e-12))
    doubt = 3.0 * max(know / math.sqrt(normal[0, 0] * square), 0.02)
    laws = theta[3] / theta[0], 0.0
    law = min(laws, key=lambda value: abs(value - share))
    if abs(law - share) > doubt:
        return FREE
    bond = np.eye(PARTS)[:, :9]
    bond[9, 1] = bond[10, 2] = law
    return bond


def trust_in(
    residual: np.ndarray, weight: np.ndarray, contrast: float, template: Template
) -> np.ndarray:
    """Weight 1 for pixels the model explains, falling to 0 for what does not belong.

    Edges of real print are rough, so edge pixels are judged by their own spread, and by
    its upper end: most pixels of the edge's band hardly feel how rough it is.
    """
    size = np.abs(residual) * np.sqrt(weight)
    all_used = bool(weight.all())
    allowed = []
    for group in template.groups:
        used = size.take(group) if all_used else size[group[weight[group] > 0.0]]
        allowed.append(_REJECT * max(upper_spread(used), _LEAST_SPREAD * abs(contrast), 1e-12))
    size /= np.where(template.edge, *allowed)
    return np.minimum(np.maximum(2.0 - size, 0.0), 1.0)


def covariance_of(solution: Solution) -> np.ndarray:
    """2 x 2 covariance of the centre, px^2, of white pixel noise."""
    # Shift = theta[4:6] / theta[3]; the contrast's own error is second order.
    return np.asarray(solution.noise**2 * solution.inverse[4:6, 4:6] / solution.theta[3] ** 2)


def wander_of(solution: Solution, template: Template, white: np.ndarray) -> Wander:
    """What leaving sectors out says of the centre, beside its covariance under white noise."""
    leave = LeaveOut.of(solution.sums.bonded(solution.bond), solution.free)
    ratio = leave.held((4, 5, 8)).spread_ratio(solution.noise, (0, 1))
    # Of a Gaussian edge, its place along the normal: the sum of its squared slopes is
    # contrast^2 / (2 sqrt(pi) width) for each px of length.
    read = solution.weight[template.edge & (solution.weight > 0.0)]
    noise = solution.noise**2 / float(read.mean() if read.size else 1.0)
    unit = 2.0 * math.sqrt(math.pi) * template.edge_px * noise / float(solution.theta[3]) ** 2
    return Wander(float(np.trace(white)) / 2.0, ratio, unit, _growth_of(solution, template))


def _growth_of(solution: Solution, template: Template) -> Growth:
    contrast = float(solution.theta[3]) or 1e-12
    row, col, own = (solution.inverse[8, [4, 5, 8]] * (solution.noise / contrast) ** 2).tolist()
    return Growth(template.growth_px + float(solution.theta[8]) / contrast, own, row, col)
