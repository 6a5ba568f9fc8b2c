"""The linear part of a fit: least squares, whom to trust, and how slopes of light hang together.

M marks are solved side by side; P is the number of the model's parts, N that of places.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from regscan.marks.doubt import Growth, LeaveOut, Wander, spread_reaches, upper_spread
from regscan.marks.fitting.reading import INSIDE, Reading
from regscan.marks.shape.template import PARTS

_LEAST_SPREAD = 0.005  # of the contrast: the model itself is no better than that
_REJECT = 4.5  # residuals beyond this many sigmas start to lose weight
_FELT = (4, 5, 8)  # of the model's parts, shift and growth: what a rough edge is felt by
_LOOK = (6, 7, 8)  # softness and growth
_NOTHING = 1e-20  # of a sum over pixels: where there is less, none was read
_HELD = 1e3  # times what pixels say of a part: they then move it no more


@dataclass(frozen=True, slots=True)
class Solution:
    """theta   M x P, what the parts amount to.
    inverse   M x P x P, of their normal matrix, parts that hang on others included.
    residual, weight   M x N float32.   noise   M, sd of one place of weight 1.
    known     M bool, marks that were taken to be as soft and grown as their templates.
    """

    theta: np.ndarray
    inverse: np.ndarray
    residual: np.ndarray
    weight: np.ndarray
    noise: np.ndarray
    known: np.ndarray

    @property
    def contrast(self) -> np.ndarray:
        """M, the ink's light less the paper's; never exactly 0."""
        return np.where(self.theta[:, 3] == 0.0, 1e-12, self.theta[:, 3])

    @property
    def left(self) -> np.ndarray:
        """M, weighted squares that it leaves."""
        return _squares(self.weight, self.residual)

    def some(self, numbers: Sequence[int], most: int) -> "Solution":
        """Of some of the marks, with so many places at most."""
        own = Solution(*(getattr(self, one.name)[list(numbers)] for one in fields(Solution)))
        return replace(own, residual=own.residual[:, :most], weight=own.weight[:, :most])


def shift_of(theta: np.ndarray, softening: list[list[float]]) -> tuple[float, float]:
    """The shift in px, kept to one pixel a round: further the picture is not linear.

    theta   P, of one mark.

    The shift planes are those of the template's blur. Where the picture is softer
    or sharper, or the shift is not quite small, they answer a little less or more:
    the cross terms of the Taylor series, to first order.
    """
    whole, *parts = theta[3:8].tolist()
    contrast = whole or 1e-12
    raw = parts[0] / contrast, parts[1] / contrast
    softer = [min(max(part / contrast, -2.0), 2.0) for part in parts[2:]]
    shift = []
    for axis in (0, 1):
        own = softening[axis]
        answer = 1.0 + own[0] * softer[0] + own[1] * softer[1] + own[axis] * raw[axis] ** 2 / 3.0
        moved = raw[axis] / min(max(answer, 0.5), 2.0)
        shift.append(min(max(moved, -1.0), 1.0))
    return shift[0], shift[1]


def trusting(reading: Reading, known: Sequence[bool]) -> Solution:
    """The solution of all places, those left out that the model does not explain, with slopes
    of light hanging together where that explains as much.

    known   M, as in Solution.
    """
    weight, sums = reading.usable, summed(reading, reading.usable)
    theta = _free(sums)
    trust = trust_in(reading, _left(reading, theta), theta[:, 3])
    if trust is not None:
        weight = weight * trust
        doubted = np.flatnonzero((weight != reading.usable).any(axis=1)).tolist()
        sums[doubted] = summed(reading, weight, doubted)
    return solve(reading, weight, sums, slope_bonds(theta, sums), known)


def solve(
    reading: Reading,
    weight: np.ndarray,
    sums: np.ndarray,
    bonds: np.ndarray | None = None,
    known: Sequence[bool] = (),
) -> Solution:
    """Weighted least squares from the sums that weight (M x N) gives, of all parts or of those
    that the bonds (M x P x P, theta = bonds @ phi) leave free.

    known   M, as in Solution; no mark where it is empty.
    """
    held = np.array(known or [False] * len(sums))
    if held.any():
        sums = sums.copy()
        for part in _LOOK:
            sums[held, part, part] *= _HELD
    normal, moment = sums[:, :-1, :-1], sums[:, :-1, -1:]
    if bonds is None:
        inverse = np.linalg.inv(ridged(normal))
    else:
        turned = bonds.transpose(0, 2, 1)
        inverse = bonds @ np.linalg.inv(ridged(turned @ normal @ bonds)) @ turned
    theta = (inverse @ moment)[:, :, 0]
    residual = _left(reading, theta)
    freedom = [max(np.count_nonzero(own) - normal.shape[-1], 1) for own in weight]
    noise = np.sqrt(_squares(weight, residual) / freedom)
    return Solution(theta, inverse, residual, weight, noise, held)


def summed(reading: Reading, weight: np.ndarray, marks: Sequence[int] | None = None) -> np.ndarray:
    """What a linear fit of P parts needs of its pixels: M x (P+1) x (P+1), its normal matrix, its
    moments in the last column and its weighted squares at the end.

    weight   M x N.   marks   some of them; all where none are named.
    """
    numbers = range(len(reading.laid)) if marks is None else marks
    size = reading.rows.shape[1]
    sums = np.empty((len(numbers), size, size))
    for own, k in zip(sums, numbers, strict=True):
        count = reading.stack.counts[k]
        rows, weights = reading.rows[k, :, :count], weight[k, :count]
        if not weights.all():
            # Of a whole mark no part hangs on others by more than a hundredth, and the sums need
            # no more digits than the pixels have. Of half of one, parts may hang on each other
            # altogether: then the least digits say that nothing is known.
            rows = rows.astype(float)
        own[:] = (rows * weights) @ rows.T
    return sums


def rough_of(parts: np.ndarray, light: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Weighted least squares of a few places of one mark, with all parts free: P."""
    weighted = parts * weight
    return np.asarray(np.linalg.solve(ridged(weighted @ parts.T), weighted @ light))


def ridged(normal: np.ndarray) -> np.ndarray:
    """A trace of ridge keeps a part that the pixels say nothing about from blowing up, also where
    no pixel says anything.

    normal   ... x P x P.
    """
    most = np.maximum(normal.diagonal(axis1=-2, axis2=-1).max(axis=-1), _NOTHING)
    return np.asarray(normal + 1e-9 * most[..., None, None] * np.eye(normal.shape[-1]))


def slope_bonds(theta: np.ndarray, sums: np.ndarray) -> np.ndarray:
    """How the light's slope on the ink hangs on its slope on the paper: M x 11 x 11.

    theta   M x 11, of a solution with all parts free.   sums   M x 12 x 12, of all places.

    Light that falls off dims ink in proportion to what it reflects; stray light
    adds the same to both. Where one of the two explains the pixels, the ink's
    slope follows the paper's and costs no accuracy; else it stays free.
    """
    bonds = np.repeat(np.eye(PARTS)[None], len(theta), axis=0)
    left = sums[:, -1, -1] - (theta * sums[:, :-1, -1]).sum(axis=1)
    for bond, parts, square_sum, normal in zip(bonds, theta.tolist(), left, sums, strict=True):
        slope, on_ink = parts[1:3], parts[9:11]
        square = slope[0] ** 2 + slope[1] ** 2
        if parts[0] <= 0.0 or square == 0.0:
            continue
        share = (slope[0] * on_ink[0] + slope[1] * on_ink[1]) / square
        know = max(square_sum, 0.0) / max(normal[9, 9] + normal[10, 10], 1e-12)
        doubt = 3.0 * max((know / (normal[0, 0] * square)) ** 0.5, 0.02)
        laws = parts[3] / parts[0], 0.0
        law = min(laws, key=lambda value: abs(value - share))
        if abs(law - share) <= doubt:
            bond[9:, 9:] = 0.0
            bond[9, 1] = bond[10, 2] = law
    return bonds


def trust_in(reading: Reading, residual: np.ndarray, contrast: np.ndarray) -> np.ndarray | None:
    """Weight 1 for places the model explains, falling to 0 for what does not belong: M x N; None
    where it explains all.

    residual   M x N.   contrast   M.

    Edges of real print are rough, so edge pixels are judged by their own spread, and by
    its upper end: most pixels of the edge's band hardly feel how rough it is.
    """
    size = np.abs(residual) * np.sqrt(reading.usable)
    least = np.maximum(_LEAST_SPREAD * np.abs(contrast), 1e-12).tolist()
    far = _far(size, reading, least)
    if not far:
        return None
    trust = np.ones_like(size)
    for k in far:
        groups = reading.laid[k].template.groups
        spreads = [_spread_of(size[k], reading.usable[k], group) for group in groups]
        on_edge, elsewhere = (_REJECT * max(spread, least[k]) for spread in spreads)
        off = size[k] / np.where(reading.stack.edge[k], on_edge, elsewhere)
        trust[k] = np.minimum(np.maximum(2.0 - off, 0.0), 1.0)
    return trust


def _far(size: np.ndarray, reading: Reading, least: list[float]) -> list[int]:
    """Marks of which some place may be further off than is trusted: of which not so many are
    nearly as far off as the worst one that this is trusted."""
    along = [laid.template.groups[0].size for laid in reading.laid]
    others = [count - own for count, own in zip(reading.stack.counts, along, strict=True)]
    on_edge = size * reading.stack.edge
    far = set()
    for off, counts in ((on_edge, along), (size - on_edge, others)):
        for k, worst in enumerate(off.max(axis=1).tolist()):
            allows = worst / _REJECT
            if allows > least[k] and not spread_reaches(off[k], counts[k], allows):
                far.add(k)
    return sorted(far)


def _spread_of(size: np.ndarray, usable: np.ndarray, group: np.ndarray) -> float:
    used = usable.take(group)
    own = size.take(group)
    return upper_spread(own if used.all() else own.compress(used > 0.0))


def covariances_of(solution: Solution) -> np.ndarray:
    """M x 2 x 2 covariance of the centre, px^2, of white pixel noise."""
    # Shift = theta[4:6] / theta[3]; the contrast's own error is second order.
    scale = (solution.noise / solution.contrast) ** 2
    return solution.inverse[:, 4:6, 4:6] * scale[:, None, None]


def wanders_of(solution: Solution, reading: Reading) -> list[Wander]:
    """What leaving sectors out says of every centre, beside its doubt under white noise."""
    # Of a Gaussian edge, its place along the normal: the sum of its squared slopes is
    # contrast^2 / (2 sqrt(pi) width) for each px of length.
    on_edge = solution.weight * reading.stack.edge
    read = on_edge.sum(axis=1) / [max(np.count_nonzero(own), 1) for own in on_edge]
    noise = solution.noise**2 / np.where(read > 0.0, read, 1.0)
    width = np.array([laid.template.edge_px for laid in reading.laid])
    unit = 2.0 * np.sqrt(np.pi) * width * noise / solution.contrast**2
    white = covariances_of(solution).trace(axis1=1, axis2=2) / 2.0
    ratio = _ratios(solution, reading)
    known = zip(white.tolist(), ratio.tolist(), unit.tolist(), strict=True)
    grown = _growths_of(solution, reading)
    return [Wander(*one, growth) for one, growth in zip(known, grown, strict=True)]


def _ratios(solution: Solution, reading: Reading) -> np.ndarray:
    """What leaving sectors out says the variance of the centres is, over that of white noise."""
    sums, known = _by_sector(solution, reading), solution.known
    ratio = LeaveOut.of(sums).spread_ratio(solution.noise)
    if known.any():
        shifts = sums[known][:, :, :2].take([0, 1, 3], axis=3)  # their growth is known as well
        ratio[known] = LeaveOut.of(shifts).spread_ratio(solution.noise[known])
    return ratio


def _by_sector(solution: Solution, reading: Reading) -> np.ndarray:
    """M x J x 3 x 4 sums over sectors of shift and growth, as LeaveOut takes them: over their
    edges, since flats tell nothing of either. J is the most sectors that any mark has; what others
    lack is zero."""
    templates = [laid.template for laid in reading.laid]
    sums = np.zeros((len(templates), max(len(drawn.sectors) for drawn in templates), 3, 4))
    for k, drawn in enumerate(templates):
        places, felt = drawn.sectors, np.empty((4, *drawn.sectors.shape), np.float32)
        for row, part in enumerate(_FELT):
            felt[row] = reading.rows[k, part].take(places, mode=INSIDE)
        felt[3] = solution.residual[k].take(places, mode=INSIDE)
        weight = drawn.in_sector * solution.weight[k].take(places, mode=INSIDE)
        sums[k, : len(places)] = (felt[:3] * weight).transpose(1, 0, 2) @ felt.transpose(1, 2, 0)
    return sums


def _growths_of(solution: Solution, reading: Reading) -> list[Growth]:
    scale = (solution.noise / solution.contrast) ** 2
    covariance = (solution.inverse[:, 8].take([8, 4, 5], axis=1) * scale[:, None]).tolist()
    drawn = [laid.template.growth_px for laid in reading.laid]
    grown = (drawn + solution.theta[:, 8] / solution.contrast).tolist()
    return [Growth(px, *own) for px, own in zip(grown, covariance, strict=True)]


def _free(sums: np.ndarray) -> np.ndarray:
    return np.asarray(np.linalg.solve(ridged(sums[:, :-1, :-1]), sums[:, :-1, -1:])[:, :, 0])


def _left(reading: Reading, theta: np.ndarray) -> np.ndarray:
    parts = theta.astype(np.float32)[:, None] @ reading.parts
    return np.asarray(reading.light - parts[:, 0])


def _squares(weight: np.ndarray, residual: np.ndarray) -> np.ndarray:
    return np.einsum("mn,mn->m", weight * residual, residual)
