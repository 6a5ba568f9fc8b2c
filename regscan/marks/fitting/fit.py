"""The fit: one mark's centre from its pixels, with a covariance that is true.

Light in the patch is modelled as

    plane + ink * contrast + what shift, blur and growth change + a slope of the ink

which is linear once the template's phase (its quarter pixel) is chosen. A few
rounds move the phase to the nearest one; then the answer is the phase's centre
plus the small shift that the last solution found.
"""

import math
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np

from regscan.marks.doubt import Wander
from regscan.marks.fitting.solve import (
    Solution,
    covariance_of,
    rough_of,
    shift_of,
    slope_bond,
    solve,
    trust_in,
    wander_of,
)
from regscan.marks.shape.template import PARTS, TILE, Template

_MAX_ROUNDS = 8
_NEAR_PHASE = 0.25  # from here on all places are read, at a centre exactly there
_HALF_PHASE = 0.14  # a little over an eighth of a pixel, so that rounds cannot swing
_ALL = slice(None)


@dataclass(frozen=True)
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

    @cached_property
    def tiles(self) -> tuple[np.ndarray, np.ndarray]:
        """Light and weight, each 2 x H x W: of every pixel, and of TILE x TILE about it.

        A tile with one unusable pixel is unusable: its mean would be of something else.
        """
        size = (TILE, TILE)
        single = np.ones_like(self.light) if self.weight is None else self.weight
        light, weight = np.empty((2, 2, *single.shape), np.float32)
        light[0], weight[0] = self.light, single
        cv2.blur(self.light, size, dst=light[1])
        cv2.boxFilter(single, -1, size, dst=weight[1], normalize=False)
        if not single.all():
            weight[1] *= cv2.erode(single, np.ones(size, np.uint8)) > 0.0
        return light, weight


@dataclass(frozen=True, slots=True)
class Inked:
    """What the pixels of one fitted mark show: N places about its centre.

    place      2 x N, rows and columns from the centre, px.
    pixel      2 x N, the pixels of the frame that they are.
    area       pixels that a place stands for; 0 where something else is printed.
    cover      ink seen: 0 the paper as lit there, 1 the mark's solid.
    model      ink of the fitted picture.
    left       what the fit leaves of it, ink.
    """

    place: np.ndarray
    pixel: np.ndarray
    area: np.ndarray
    cover: np.ndarray
    model: np.ndarray
    left: np.ndarray


@dataclass(frozen=True, slots=True)
class Fit:
    """What the fit found. Lengths px; contrast in units of light (negative: darker).

    row_var, col_var, row_col_covar are those of white noise; wander says by how much
    the mark's edge makes them larger; read is what its last round read.
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
    read: "Read"
    inked: Inked


@dataclass(frozen=True, slots=True)
class Round:
    """A solution of all places, what was read for it, and the centre it asks for."""

    solution: Solution
    read: "Read"
    row_px: float
    col_px: float
    converged: bool


def fit_mark(
    patch: Patch, template: Template, row_px: float, col_px: float, *, near: bool = False
) -> Fit | None:
    """Fit one mark near (row_px, col_px); None when nothing like it is there.

    A start within about two edge widths of the truth is near enough.

    near   True where the start is good to a fraction of a pixel: all places are read at once.
    """
    start = row_px, col_px
    reach = max(template.reach_rows, template.reach_cols)
    last: Round | None = None
    for _ in range(_MAX_ROUNDS):
        if not near:
            rough = _rough_round(patch, template, (row_px, col_px))
            if rough is None:
                return None
            row_px, col_px, near = rough
        if near:
            last = _last_round(patch, template, (row_px, col_px))
            if last is None:
                return None
            row_px, col_px = last.row_px, last.col_px
        if abs(row_px - start[0]) > reach or abs(col_px - start[1]) > reach:
            return None
        if last and last.converged:
            break
    last = last or _last_round(patch, template, (row_px, col_px))
    return fit_of(last, template) if last else None


def _rough_round(
    patch: Patch,
    template: Template,
    at: tuple[float, float],
) -> tuple[float, float, bool] | None:
    """The centre that the thinned places ask for at the nearest phase, and whether the
    phase was near enough. None when there is nothing to be fitted."""
    thin = template.thin
    phase, row, col = template.phase_of(*at)
    light, weight = _gather(patch, template, (row, col), thin)
    if _too_little(weight, template.inside[thin]):
        return None
    rough = rough_of(template.design(phase, thin), light, weight)
    return _moved(rough.theta, template, (phase, row, col))


def _too_little(weight: np.ndarray, inside: np.ndarray) -> bool:
    """Whether there are too few usable places for a fit, or none on the ink."""
    return bool(np.count_nonzero(weight) < 4 * PARTS or not weight[inside].any())


def _last_round(
    patch: Patch,
    template: Template,
    at: tuple[float, float],
) -> Round | None:
    """The solution of all places at a centre exactly there; the thinned ones tell whom to
    trust and how slopes of light hang together. None when there is nothing to be fitted."""
    read = read_at(patch, template, at)
    thin = template.thin
    if _too_little(read.usable[thin], template.inside[thin]):
        return None
    rough = rough_of(read.design[thin], read.light[thin], read.usable[thin])
    left = read.light - read.design @ rough.theta
    weight = read.usable * trust_in(left, read.usable, float(rough.theta[3]), template)
    solution = solve(read.design, read.light, weight, slope_bond(rough), template.sectors)
    return round_of(solution, template, read)


@dataclass(frozen=True, slots=True)
class Read:
    """A patch read for a centre exactly `at`; middle is the template's middle pixel there.

    design   N x 11, the model's parts.   light, usable   N, and its weight.
    """

    at: tuple[float, float]
    middle: tuple[int, int]
    design: np.ndarray
    light: np.ndarray
    usable: np.ndarray


def read_at(patch: Patch, template: Template, at: tuple[float, float]) -> Read:
    """The design, and what the patch shows at its places, for a centre exactly there."""
    design, *middle = template.design_at(*at)
    here = middle[0], middle[1]
    return Read(at, here, design, *_gather(patch, template, here))


def round_of(solution: Solution, template: Template, read: Read) -> Round:
    """What a solution at the centre that was read for says."""
    shift = shift_of(solution.theta, template.softening)
    centre = read.at[0] + shift[0], read.at[1] + shift[1]
    converged = max(abs(shift[0]), abs(shift[1])) <= _HALF_PHASE
    return Round(solution, read, *centre, converged)


def _inked(last: Round, template: Template) -> Inked:
    read, theta = last.read, last.solution.theta
    contrast = float(theta[3]) or 1e-12
    pixel = template.places + np.array(read.middle)[:, None]
    paper = read.design[:, :3] @ theta[:3]
    return Inked(
        pixel - np.array([[last.row_px], [last.col_px]]),
        pixel,
        template.areas * (read.usable > 0.0),
        (read.light - paper) / contrast,
        read.design[:, 3],
        last.solution.residual / contrast,
    )


def _moved(
    theta: np.ndarray, template: Template, at: tuple[tuple[int, int], int, int]
) -> tuple[float, float, bool]:
    """The centre a solution asks for, and whether the phase it was found at was near enough."""
    shift = shift_of(theta, template.softening)
    centre = template.centre_of(*at)
    near = max(abs(shift[0]), abs(shift[1])) <= _NEAR_PHASE
    return centre[0] + shift[0], centre[1] + shift[1], near


def _gather(
    patch: Patch,
    template: Template,
    middle: tuple[int, int],
    thin: slice = _ALL,
) -> tuple[np.ndarray, np.ndarray]:
    """Light and weight at the template's N places, or some; weight 0 outside the patch."""
    down, right = middle[0] - patch.row, middle[1] - patch.col
    height, width = patch.light.shape
    index = template.index_in((height, width))[thin] + (down * width + right)
    inside = (
        down - template.half_rows >= TILE
        and right - template.half_cols >= TILE
        and down + template.half_rows < height - TILE
        and right + template.half_cols < width - TILE
    )
    known: np.ndarray | None = None
    if not inside:
        room = template.room[thin]
        rows, cols = template.places[:, thin] + np.array([[down], [right]])
        known = (rows >= room) & (rows < height - room) & (cols >= room) & (cols < width - room)
        index = np.where(known, index, 0)
    light, weight = (both.ravel().take(index).astype(np.float64) for both in patch.tiles)
    return light, weight if known is None else weight * known


def fit_of(last: Round, template: Template) -> Fit:
    """The fit that a last round amounts to."""
    solution = last.solution
    theta = solution.theta
    contrast = float(theta[3])
    covariance = covariance_of(solution)
    left = solution.residual.take(template.groups[0])
    left = left.compress(solution.weight.take(template.groups[0]) > 0.0)
    edge_rms = math.sqrt(float(left @ left) / left.size) if left.size else math.nan
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
        wander=wander_of(solution, template, covariance),
        read=last.read,
        inked=_inked(last, template),
    )
