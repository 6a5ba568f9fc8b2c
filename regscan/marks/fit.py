"""The fit: one mark's centre from its pixels, with a covariance that is true.

Light in the patch is modelled as

    plane + ink * contrast + what shift, blur and growth change + a slope of the ink

which is linear once the template's phase (its quarter pixel) is chosen. A few
rounds move the phase to the nearest one; then the answer is the phase's centre
plus the small shift that the last solution found.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np

from regscan.marks.doubt import LeaveOut, Wander
from regscan.marks.template import TILE, Template

_MAX_ROUNDS = 8
_HALF_PHASE = 0.14  # a little over an eighth of a pixel, so that rounds cannot swing
_LEAST_SPREAD = 0.005  # of the contrast: the model itself is no better than that
_REJECT = 4.5  # residuals beyond this many sigmas start to lose weight
_PARAMETERS = 11


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


@dataclass(frozen=True, slots=True)
class _Solution:
    """theta of the 11 parts; inverse of their normal matrix; what is left over.

    bond   11 x P: how the 11 parts hang on the P that were free.
    """

    theta: np.ndarray
    inverse: np.ndarray
    design: np.ndarray
    residual: np.ndarray
    weight: np.ndarray
    noise: float
    bond: np.ndarray


def fit_mark(patch: Patch, template: Template, row_px: float, col_px: float) -> Fit | None:
    """Fit one mark near (row_px, col_px); None when nothing like it is there.

    A start within about two edge widths of the truth is near enough.
    """
    start = row_px, col_px
    reach = max(template.reach_rows, template.reach_cols)
    tiles = patch.tiles()
    for _ in range(_MAX_ROUNDS):
        phase, row, col = template.phase_of(row_px, col_px)
        light, weight = _gather(patch, tiles, template, (row, col))
        if np.count_nonzero(weight) < 4 * _PARAMETERS or not weight[template.inside].any():
            return None
        design = template.design(phase)
        solution = _solve(design, light, weight)
        row_px, col_px, converged = _moved(solution, template, (phase, row, col))
        if converged:
            at = row_px, col_px
            design, row, col = template.design_at(*at)
            light, weight = _gather(patch, tiles, template, (row, col))
            solution = _solve(design, light, weight * _trust(solution, template), solution.bond)
            shift = _shift(solution.theta, template.softening)
            row_px, col_px = at[0] + shift[0], at[1] + shift[1]
            converged = max(abs(shift[0]), abs(shift[1])) <= _HALF_PHASE
        if abs(row_px - start[0]) > reach or abs(col_px - start[1]) > reach:
            return None
        if converged:
            break
    return _fit_of(solution, template, (row_px, col_px), converged=converged)


def _moved(
    solution: _Solution, template: Template, at: tuple[tuple[int, int], int, int]
) -> tuple[float, float, bool]:
    """The centre a solution asks for, and whether the phase it was found at was near enough."""
    shift = _shift(solution.theta, template.softening)
    centre = template.centre_of(*at)
    near = max(abs(shift[0]), abs(shift[1])) <= _HALF_PHASE
    return centre[0] + shift[0], centre[1] + shift[1], near


def _shift(theta: np.ndarray, softening: np.ndarray) -> tuple[float, float]:
    """The shift in px, kept to one pixel a round: further the picture is not linear.

    The shift planes are those of the template's blur. Where the picture is softer
    or sharper, or the shift is not quite small, they answer a little less or more:
    the cross terms of the Taylor series, to first order.
    """
    contrast = theta[3] or 1e-12
    raw = theta[4:6] / contrast
    softer = np.clip(theta[6:8] / contrast, -2.0, 2.0)
    answer = 1.0 + softening @ softer + np.diag(softening) * raw**2 / 3.0
    row, col = np.clip(raw / np.clip(answer, 0.5, 2.0), -1.0, 1.0)
    return float(row), float(col)


def _gather(
    patch: Patch,
    tiles: tuple[np.ndarray, np.ndarray],
    template: Template,
    middle: tuple[int, int],
) -> tuple[np.ndarray, np.ndarray]:
    """Light and weight at the template's N places; weight 0 outside the patch."""
    rows, cols = template.rows + middle[0] - patch.row, template.cols + middle[1] - patch.col
    height, width = patch.light.shape
    room = template.room
    within = (rows >= room) & (rows < height - room) & (cols >= room) & (cols < width - room)
    index = np.clip(rows, 0, height - 1) * width + np.clip(cols, 0, width - 1)
    light = np.where(template.tile, tiles[0].ravel()[index], patch.light.ravel()[index])
    single = 1.0 if patch.weight is None else patch.weight.ravel()[index]
    weight = np.where(template.tile, tiles[1].ravel()[index], single) * within
    return light.astype(np.float64), weight.astype(np.float64)


def _solve(
    design: np.ndarray, light: np.ndarray, weight: np.ndarray, bond: np.ndarray | None = None
) -> _Solution:
    """Weighted least squares; how the light's slopes hang together is found unless given."""
    weighted = design * weight[:, None]
    normal, moment = weighted.T @ design, weighted.T @ light
    if bond is None:
        free, _ = _invert(normal, moment, np.eye(_PARAMETERS))
        left = float(weight @ (light * light) - free @ moment)
        bond = _slope_bond(free, normal, max(left, 0.0))
    theta, inverse = _invert(normal, moment, bond)
    residual = light - design @ theta
    freedom = max(float(np.count_nonzero(weight)) - _PARAMETERS, 1.0)
    noise = math.sqrt(float(weight @ (residual * residual)) / freedom)
    return _Solution(theta, inverse, design, residual, weight, noise, bond)


def _invert(
    normal: np.ndarray, moment: np.ndarray, bond: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """theta = bond @ phi of least squares, and the inverse normal matrix in theta's terms."""
    reduced = bond.T @ normal @ bond
    # A trace of ridge keeps a part that the pixels say nothing about from blowing up.
    reduced.flat[:: len(reduced) + 1] += 1e-9 * reduced.diagonal().max()
    inverse = bond @ np.linalg.inv(reduced) @ bond.T
    return inverse @ moment, inverse


def _slope_bond(theta: np.ndarray, normal: np.ndarray, square_sum: float) -> np.ndarray:
    """How the light's slope on the ink hangs on its slope on the paper: 11 x 9 or 11 x 11.

    Light that falls off dims ink in proportion to what it reflects; stray light
    adds the same to both. Where one of the two explains the pixels, the ink's
    slope follows the paper's and costs no accuracy; else it stays free.
    """
    slope, on_ink = theta[1:3], theta[9:11]
    square = float(slope @ slope)
    if theta[0] <= 0.0 or square == 0.0:
        return np.eye(_PARAMETERS)
    share = float(on_ink @ slope) / square
    know = math.sqrt(square_sum / max(float(normal[9:11, 9:11].trace()), 1e-12))
    doubt = 3.0 * max(know / math.sqrt(normal[0, 0] * square), 0.02)
    laws = theta[3] / theta[0], 0.0
    law = min(laws, key=lambda value: abs(value - share))
    if abs(law - share) > doubt:
        return np.eye(_PARAMETERS)
    bond = np.eye(_PARAMETERS)[:, :9]
    bond[9, 1] = bond[10, 2] = law
    return bond


def _trust(solution: _Solution, template: Template) -> np.ndarray:
    """Weight 1 for pixels the model explains, falling to 0 for what does not belong.

    Edges of real print are rough, so edge pixels are judged by their own spread, and by
    its upper end: most pixels of the edge's band hardly feel how rough it is.
    """
    trust = np.ones_like(solution.residual)
    size = np.abs(solution.residual) * np.sqrt(solution.weight)
    for group in (template.edge, ~template.edge):
        used = size[group & (solution.weight > 0)]
        if used.size:
            upper = int(0.9 * (used.size - 1))
            spread = float(np.partition(used, upper)[upper]) / 1.645
            spread = max(spread, _LEAST_SPREAD * abs(float(solution.theta[3])))
            excess = size[group] / (_REJECT * spread)
            trust[group] = np.clip(2.0 - excess, 0.0, 1.0)
    return trust


def _fit_of(
    solution: _Solution, template: Template, centre: tuple[float, float], *, converged: bool
) -> Fit:
    theta = solution.theta
    contrast = float(theta[3])
    covariance = _covariance(solution)
    edge = template.edge & (solution.weight > 0)
    edge_rms = math.sqrt(float(np.mean(solution.residual[edge] ** 2))) if edge.any() else math.nan
    return Fit(
        row_px=centre[0],
        col_px=centre[1],
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
        converged=converged,
        wander=_wander(solution, template, covariance),
    )


def _covariance(solution: _Solution) -> np.ndarray:
    """2 x 2 covariance of the centre, px^2, of white pixel noise."""
    # Shift = theta[4:6] / theta[3]; the contrast's own error is second order.
    return np.asarray(solution.noise**2 * solution.inverse[4:6, 4:6] / solution.theta[3] ** 2)


def _wander(solution: _Solution, template: Template, white: np.ndarray) -> Wander:
    design = solution.design @ solution.bond
    leave = LeaveOut.of(design, solution.weight, solution.residual, template.sectors)
    ratio = leave.spread_ratio(solution.noise, (4, 5))
    return Wander(float(np.trace(white)) / 2.0, ratio, template.area_per_growth_px)
