"""The fit: one mark's centre from its pixels, with a covariance that is true.

Light in the patch is modelled as

    plane + ink * contrast + what shift, blur and growth change + a slope of the ink

which is linear once the template's phase (its quarter pixel) is chosen. A few
rounds move the phase to the nearest one; then the answer is the phase's centre
plus the small shift that the last solution found.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from regscan.marks.doubt import LeaveOut, Sums, Wander
from regscan.marks.template import TILE, Template

_MAX_ROUNDS = 8
_HALF_PHASE = 0.14  # a little over an eighth of a pixel, so that rounds cannot swing
_LEAST_SPREAD = 0.005  # of the contrast: the model itself is no better than that
_REJECT = 4.5  # residuals beyond this many sigmas start to lose weight
_PARAMETERS = 11
_FREE = np.eye(_PARAMETERS)
_ALL = slice(None)


@dataclass(frozen=True, slots=True)
class Patch:
    """A piece of the frame: light as one number per pixel, and which pixels may be used.

    light   H x W float32, along the colour direction in which this ink stands out most.
    weight  H x W float32: 0 where something else is printed, else the square of how
            well the pixel is known relative to the others. None for all alike.
    row, col   where the patch's top-left pixel lies in the frame.
    """

    light: np.ndarray
    weight: np.ndarray | None = None
    row: int = 0
    col: int = 0

    def tiles(self) -> tuple[np.ndarray, np.ndarray]:
        """Means of TILE x TILE pixels about every pixel, and their weight.

        A tile with one unusable pixel is unusable: its mean would be of something else.
        """
        size = (TILE, TILE)
        light = cv2.blur(self.light, size)
        if self.weight is None:
            return light, np.full_like(light, TILE**2)
        whole = cv2.erode(self.weight, np.ones(size, np.uint8))
        return light, np.where(whole > 0, cv2.blur(self.weight, size) * TILE**2, 0.0)


@dataclass(frozen=True, slots=True)
class Inked:
    """What the pixels of one fitted mark show: N places about its centre.

    row, col   px from the centre.   area   pixels that a place stands for; 0 where
               something else is printed.
    cover      ink seen: 0 the paper as lit there, 1 the mark's solid.
    model      ink of the fitted picture.
    """

    row: np.ndarray
    col: np.ndarray
    area: np.ndarray
    cover: np.ndarray
    model: np.ndarray


@dataclass(frozen=True, slots=True)
class Fit:
    """What the fit found. Lengths px; contrast in units of light (negative: darker).

    row_var, col_var, row_col_covar are those of white noise; wander says by how much
    the mark's edge makes them larger.
    """

    row_px: float
    col_px: float
    row_var: float
    col_var: float
    row_col_covar: float
    contrast: float
    paper: float
    blur_row_var: float
    blur_col_var: float
    growth_px: float
    misfit: float
    noise: float
    used_share: float
    converged: bool
    wander: Wander
    inked: Inked


@dataclass(frozen=True, slots=True)
class _Rough:
    """theta of the 11 parts from a few places; their normal matrix; weighted squares left."""

    theta: np.ndarray
    normal: np.ndarray
    square_sum: float


@dataclass(frozen=True, slots=True)
class _Solution:
    """theta of the 11 parts; inverse of their normal matrix; what is left over.

    sums   of the places, sector by sector.
    bond   11 x P: how the 11 parts hang on the P that were free.
    """

    theta: np.ndarray
    inverse: np.ndarray
    sums: Sums
    residual: np.ndarray
    weight: np.ndarray
    noise: float
    bond: np.ndarray


@dataclass(frozen=True, slots=True)
class _Last:
    """The solution of all places, the centre it asks for, and what the places show."""

    solution: _Solution
    row_px: float
    col_px: float
    converged: bool
    inked: Inked


def fit_mark(patch: Patch, template: Template, row_px: float, col_px: float) -> Fit | None:
    """Fit one mark near (row_px, col_px); None when nothing like it is there.

    A start within about two edge widths of the truth is near enough.
    """
    start = row_px, col_px
    reach = max(template.reach_rows, template.reach_cols)
    tiles = patch.tiles()
    last: _Last | None = None
    for _ in range(_MAX_ROUNDS):
        rough = _rough_round(patch, tiles, template, (row_px, col_px))
        if rough is None:
            return None
        seen, row_px, col_px, near = rough
        last = _last_round(patch, tiles, template, (row_px, col_px), seen) if near else None
        if last:
            row_px, col_px = last.row_px, last.col_px
        if abs(row_px - start[0]) > reach or abs(col_px - start[1]) > reach:
            return None
        if last and last.converged:
            break
    last = last or _last_round(patch, tiles, template, (row_px, col_px), seen)
    return _fit_of(last, template)


def _rough_round(
    patch: Patch,
    tiles: tuple[np.ndarray, np.ndarray],
    template: Template,
    at: tuple[float, float],
) -> tuple[_Rough, float, float, bool] | None:
    """A solution of the thinned places at the nearest phase; the centre it asks for, and
    whether the phase was near enough. None when there is nothing to be fitted."""
    thin = template.thin
    phase, row, col = template.phase_of(*at)
    light, weight = _gather(patch, tiles, template, (row, col), thin)
    if np.count_nonzero(weight) < 4 * _PARAMETERS or not weight[template.inside[thin]].any():
        return None
    design = template.design(phase, thin)
    weighted = design.T * weight
    normal, moment = weighted @ design, weighted @ light
    theta = np.linalg.solve(_ridged(normal), moment)
    left = max(float(weight @ (light * light) - theta @ moment), 0.0)
    return _Rough(theta, normal, left), *_moved(theta, template, (phase, row, col))


def _last_round(
    patch: Patch,
    tiles: tuple[np.ndarray, np.ndarray],
    template: Template,
    at: tuple[float, float],
    before: _Rough,
) -> _Last:
    """The solution of all places at a centre exactly there.

    before   the last solution of the thinned places: whom to trust, and how slopes hang
             together, is taken from it.
    """
    design, *middle = template.design_at(*at)
    light, usable = _gather(patch, tiles, template, (middle[0], middle[1]))
    theta = before.theta.copy()
    theta[4:6] = 0.0  # the design is already there
    trust = _trust(light - design @ theta, usable, float(theta[3]), template)
    solution = _solve(design, light, usable * trust, _slope_bond(before), template.sectors)
    shift = _shift(solution.theta, template.softening)
    centre = at[0] + shift[0], at[1] + shift[1]
    converged = max(abs(shift[0]), abs(shift[1])) <= _HALF_PHASE
    paper = design[:, :3] @ solution.theta[:3]
    inked = Inked(
        template.rows + (middle[0] - centre[0]),
        template.cols + (middle[1] - centre[1]),
        np.where(template.tile, float(TILE**2), 1.0) * (usable > 0.0),
        (light - paper) / (float(solution.theta[3]) or 1e-12),
        design[:, 3],
    )
    return _Last(solution, *centre, converged, inked)


def _moved(
    theta: np.ndarray, template: Template, at: tuple[tuple[int, int], int, int]
) -> tuple[float, float, bool]:
    """The centre a solution asks for, and whether the phase it was found at was near enough."""
    shift = _shift(theta, template.softening)
    centre = template.centre_of(*at)
    near = max(abs(shift[0]), abs(shift[1])) <= _HALF_PHASE
    return centre[0] + shift[0], centre[1] + shift[1], near


def _shift(theta: np.ndarray, softening: list[list[float]]) -> tuple[float, float]:
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


def _gather(
    patch: Patch,
    tiles: tuple[np.ndarray, np.ndarray],
    template: Template,
    middle: tuple[int, int],
    thin: slice = _ALL,
) -> tuple[np.ndarray, np.ndarray]:
    """Light and weight at the template's N places, or some; weight 0 outside the patch."""
    down, right = middle[0] - patch.row, middle[1] - patch.col
    rows, cols, tile = template.rows[thin] + down, template.cols[thin] + right, template.tile[thin]
    height, width = patch.light.shape
    inside = (
        down - template.half_rows >= TILE
        and right - template.half_cols >= TILE
        and down + template.half_rows < height - TILE
        and right + template.half_cols < width - TILE
    )
    if not inside:
        room = template.room[thin]
        within = (rows >= room) & (rows < height - room) & (cols >= room) & (cols < width - room)
        rows, cols = np.clip(rows, 0, height - 1), np.clip(cols, 0, width - 1)
    index = rows * width + cols
    light = np.where(tile, tiles[0].ravel()[index], patch.light.ravel()[index])
    single = 1.0 if patch.weight is None else patch.weight.ravel()[index]
    weight = np.where(tile, tiles[1].ravel()[index], single)
    if not inside:
        weight = weight * within
    return light.astype(np.float64), weight.astype(np.float64)


def _solve(
    design: np.ndarray,
    light: np.ndarray,
    weight: np.ndarray,
    bond: np.ndarray,
    sectors: Sequence[slice],
) -> _Solution:
    """Weighted least squares of the parts that the bond leaves free."""
    sums = Sums.of(design, weight, light, sectors)
    normal, moment = sums.normals.sum(axis=0), sums.moments.sum(axis=0)
    inverse = bond @ np.linalg.inv(_ridged(bond.T @ normal @ bond)) @ bond.T
    theta = inverse @ moment
    residual = light - design @ theta
    freedom = max(float(np.count_nonzero(weight)) - _PARAMETERS, 1.0)
    noise = math.sqrt(float(weight @ (residual * residual)) / freedom)
    return _Solution(theta, inverse, sums, residual, weight, noise, bond)


def _ridged(normal: np.ndarray) -> np.ndarray:
    """A trace of ridge keeps a part that the pixels say nothing about from blowing up."""
    ridged = normal.copy()
    ridged.flat[:: len(ridged) + 1] += 1e-9 * ridged.diagonal().max()
    return ridged


def _slope_bond(free: _Rough) -> np.ndarray:
    """How the light's slope on the ink hangs on its slope on the paper: 11 x 9 or 11 x 11.

    Light that falls off dims ink in proportion to what it reflects; stray light
    adds the same to both. Where one of the two explains the pixels, the ink's
    slope follows the paper's and costs no accuracy; else it stays free.
    """
    theta, normal, square_sum = free.theta, free.normal, free.square_sum
    slope, on_ink = theta[1:3], theta[9:11]
    square = float(slope @ slope)
    if theta[0] <= 0.0 or square == 0.0:
        return _FREE
    share = float(on_ink @ slope) / square
    know = math.sqrt(square_sum / max(float(normal[9:11, 9:11].trace()), 1e-12))
    doubt = 3.0 * max(know / math.sqrt(normal[0, 0] * square), 0.02)
    laws = theta[3] / theta[0], 0.0
    law = min(laws, key=lambda value: abs(value - share))
    if abs(law - share) > doubt:
        return _FREE
    bond = np.eye(_PARAMETERS)[:, :9]
    bond[9, 1] = bond[10, 2] = law
    return bond


def _trust(
    residual: np.ndarray, weight: np.ndarray, contrast: float, template: Template
) -> np.ndarray:
    """Weight 1 for pixels the model explains, falling to 0 for what does not belong.

    Edges of real print are rough, so edge pixels are judged by their own spread, and by
    its upper end: most pixels of the edge's band hardly feel how rough it is.
    """
    size = np.abs(residual) * np.sqrt(weight)
    allowed = np.empty_like(size)
    for group in (template.edge, ~template.edge):
        used = size[group & (weight > 0)]
        upper = int(0.9 * (used.size - 1))
        spread = float(np.partition(used, upper)[upper]) / 1.645 if used.size else 0.0
        allowed[group] = _REJECT * max(spread, _LEAST_SPREAD * abs(contrast), 1e-12)
    return np.minimum(np.maximum(2.0 - size / allowed, 0.0), 1.0)


def _fit_of(last: _Last, template: Template) -> Fit:
    solution = last.solution
    theta = solution.theta
    contrast = float(theta[3])
    covariance = _covariance(solution)
    edge = template.edge & (solution.weight > 0)
    edge_rms = math.sqrt(float(np.mean(solution.residual[edge] ** 2))) if edge.any() else math.nan
    return Fit(
        row_px=last.row_px,
        col_px=last.col_px,
        row_var=float(covariance[0, 0]),
        col_var=float(covariance[1, 1]),
        row_col_covar=float(covariance[0, 1]),
        contrast=contrast,
        paper=float(theta[0]),
        blur_row_var=float(theta[6] / contrast),
        blur_col_var=float(theta[7] / contrast),
        growth_px=float(theta[8] / contrast),
        misfit=edge_rms / abs(contrast),
        noise=solution.noise,
        used_share=float(np.count_nonzero(solution.weight) / solution.weight.size),
        converged=last.converged,
        wander=_wander(solution, template, covariance),
        inked=last.inked,
    )


def _covariance(solution: _Solution) -> np.ndarray:
    """2 x 2 covariance of the centre, px^2, of white pixel noise."""
    # Shift = theta[4:6] / theta[3]; the contrast's own error is second order.
    return np.asarray(solution.noise**2 * solution.inverse[4:6, 4:6] / solution.theta[3] ** 2)


def _wander(solution: _Solution, template: Template, white: np.ndarray) -> Wander:
    bond = solution.bond
    free = solution.theta[: bond.shape[1]]  # the parts that hang on others come last
    leave = LeaveOut.of(solution.sums.bonded(bond), free)
    ratio = leave.spread_ratio(solution.noise, (4, 5))
    return Wander(float(np.trace(white)) / 2.0, ratio, template.area_per_growth_px)
