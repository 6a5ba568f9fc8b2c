"""A mark that stands clear of the others: fit it, look at its print, say how far to trust it."""

import math
from dataclasses import dataclass, replace
from functools import reduce

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.layout import MarkDesign
from regscan.marks.candidates import Candidate
from regscan.marks.clusters import Box
from regscan.marks.colourway import ink_direction, ink_patch
from regscan.marks.doubt import Wander
from regscan.marks.fit import Fit, fit_mark
from regscan.marks.flags import MarkFlag
from regscan.marks.light import to_light
from regscan.marks.limits import LIMITS
from regscan.marks.mark import Mark
from regscan.marks.printing import Inked, Printing, printing_of
from regscan.marks.quality import (
    area_ratio,
    cut_share,
    fit_flags,
    ink_flags,
    printing_flags,
    status_of,
)
from regscan.marks.template import SHARPEST_PX, TILE, Appearance, Template, template
from regscan.marks.view import View, span

_MOST_LOOKS = 4  # templates tried for one mark
_SMEAR_PULL = 0.3
_SMEAR_SEEN_UM = 5.0  # less than this is noise


def measure_alone(
    view: View, camera: Camera, design: MarkDesign, candidate: Candidate, look: Appearance
) -> tuple[Mark, Appearance, Wander | None]:
    """The mark near a candidate place, and the appearance it had (a good first look for
    the next mark of the same frame). Its covariance is that of white noise; what its edge
    adds to that comes third, None for a missing mark. Nothing is raised for a poor mark."""
    missing = Mark(design.ink, design.edge, "missing")
    camera = camera.near(candidate.row_px, candidate.col_px)
    shape = template(design.shape, camera, look)
    box = Box(candidate.row_px, candidate.col_px, shape.reach_rows, shape.reach_cols)
    if cut_share(box, view.size) > LIMITS.cut_away:
        return replace(missing, flags=MarkFlag.CLIPPED), look, None
    substrate, ink = view.palette.substrate, view.palette.ink(design.ink)
    direction = ink_direction(substrate, ink, camera.tone)
    fitted = _fit(_Task(view, camera, design, direction), candidate, look)
    if fitted is None:
        return replace(missing, flags=MarkFlag.NO_FIT), look, None
    fit, shape, look = fitted
    if fit.contrast * float((ink - substrate) @ direction) <= 0.0:
        return replace(missing, flags=MarkFlag.INK_UNSURE), look, None
    mark = _judged(view, camera, design, fitted)
    return mark, look, replace(fit.wander, pull=_pulled(mark.printing, camera))


@dataclass(frozen=True, slots=True)
class _Task:
    view: View
    camera: Camera
    design: MarkDesign
    direction: np.ndarray


_Fitted = tuple[Fit, Template, Appearance]


def _fit(task: _Task, candidate: Candidate, look: Appearance) -> _Fitted | None:
    """Fit, then again with the appearance the first fit saw, until that agrees."""
    place = candidate.row_px, candidate.col_px
    fitted = None
    for _ in range(_MOST_LOOKS):
        shape = template(task.design.shape, task.camera, look)
        rows, cols = _crop(task.view, shape, place, task.view.coarse.factor)
        usable = _usable(task.view, shape, place, (rows, cols))
        patch = ink_patch(
            task.view.codes(rows, cols),
            task.direction,
            task.camera.tone,
            usable,
            (rows.start, cols.start),
        )
        fit = fit_mark(patch, shape, *place)
        if fit is None:
            return None
        place = fit.row_px, fit.col_px
        fitted = fit, shape, look
        if _near_enough(look, fit):
            break
        look = _seen(look, fit).rounded()
    return fitted


def _crop(
    view: View, shape: Template, place: tuple[float, float], slack: int
) -> tuple[slice, slice]:
    """The piece of the frame a fit near `place` may touch."""
    return (
        span(place[0], shape.half_rows + slack + 2, view.size[0]),
        span(place[1], shape.half_cols + slack + 2, view.size[1]),
    )


def _usable(
    view: View, shape: Template, place: tuple[float, float], piece: tuple[slice, slice]
) -> np.ndarray:
    return view.usable([Box(*place, shape.reach_rows, shape.reach_cols)], *piece)


def _near_enough(look: Appearance, fit: Fit) -> bool:
    """The fit corrects for an appearance a little off the template's: a quarter in
    variance, a fifth of a pixel in growth."""
    off = abs(fit.blur_row_var) / look.row_px**2, abs(fit.blur_col_var) / look.col_px**2
    return max(off) < 0.25 and abs(fit.growth_px) < 0.2


def _seen(look: Appearance, fit: Fit) -> Appearance:
    """The appearance a fit saw: the template's and what it found on top."""
    return Appearance(
        *_edge_px(look, fit), look.growth_px + float(np.clip(fit.growth_px, -1.5, 1.5))
    )


def _edge_px(look: Appearance, fit: Fit) -> tuple[float, float]:
    """Width of the edge down rows and along columns, one sigma."""

    def width(own: float, extra: float) -> float:
        return math.sqrt(
            max(own**2 + float(np.clip(extra, -0.6 * own**2, 3.0 * own**2)), SHARPEST_PX**2)
        )

    return width(look.row_px, fit.blur_row_var), width(look.col_px, fit.blur_col_var)


def _judged(view: View, camera: Camera, design: MarkDesign, fitted: _Fitted) -> Mark:
    """The mark with its flags and print quality."""
    fit, shape, look = fitted
    pixels = _Pixels.of(view, shape, fit)
    colour, inked = _inked(view, pixels, fit)
    edge_px = _edge_px(look, fit)
    printing = replace(printing_of(inked, camera, edge_px), at_full=_at_full(view, pixels))
    flags = fit_flags(fit, shape, view.size)
    flags |= ink_flags(colour, view.palette, design.ink) | printing_flags(printing)
    return Mark(
        ink=design.ink,
        edge=design.edge,
        status=status_of(flags),
        row_px=fit.row_px,
        col_px=fit.col_px,
        row_var=fit.row_var,
        col_var=fit.col_var,
        row_col_covar=fit.row_col_covar,
        flags=flags,
        contrast=fit.contrast,
        edge_px=math.sqrt(edge_px[0] * edge_px[1]),
        area_ratio=area_ratio(fit, shape),
        misfit=fit.misfit,
        printing=printing,
    )


@dataclass(frozen=True, slots=True)
class _Pixels:
    """The pixels at a fitted mark's N places: where they lie, in a piece of the frame.

    model   the ink of the fitted picture at each place.
    """

    shape: Template
    piece: tuple[slice, slice]
    down: np.ndarray
    right: np.ndarray
    row: np.ndarray
    col: np.ndarray
    model: np.ndarray

    @staticmethod
    def of(view: View, shape: Template, fit: Fit) -> "_Pixels":
        rows, cols = _crop(view, shape, (fit.row_px, fit.col_px), 0)
        phase, middle_row, middle_col = shape.phase_of(fit.row_px, fit.col_px)
        row, col = shape.rows + middle_row, shape.cols + middle_col
        down = np.clip(row - rows.start, 0, rows.stop - rows.start - 1)
        right = np.clip(col - cols.start, 0, cols.stop - cols.start - 1)
        model = shape.design(phase)[:, 3]
        return _Pixels(shape, (rows, cols), down, right, row, col, model)


def _at_full(view: View, pixels: _Pixels) -> float:
    """Share of pixels at either end of the scale in every channel: the mark's or the paper's."""
    codes = view.planes[pixels.piece][pixels.down, pixels.right]
    # Channel by channel: over an axis of three, numpy's own minimum is ten times slower.
    low, high = reduce(np.minimum, codes.T), reduce(np.maximum, codes.T)
    full = (low == np.iinfo(codes.dtype).max) | (high == 0)
    groups = [full[pixels.model > 0.9], full[pixels.model < 0.1]]
    return max((float(group.mean()) for group in groups if group.size), default=0.0)


def _pulled(printing: Printing, camera: Camera) -> tuple[float, float]:
    """How far a smear may have pulled the centre along the web: (row, col) px, one sigma.

    The fit follows the outline, of which a smear softens one side; by how much that moves
    the centre depends on how the smear fades, so a part of its length is doubt.
    """
    length_um = abs(printing.slur_um) - 3.0 * abs(printing.sideways_um) - _SMEAR_SEEN_UM
    if not length_um > 0.0:
        return 0.0, 0.0
    row, col = camera.to_pixels(_SMEAR_PULL * length_um / 1000.0, 0.0)
    origin = camera.to_pixels(0.0, 0.0)
    return float(row - origin[0]), float(col - origin[1])


def _inked(view: View, pixels: _Pixels, fit: Fit) -> tuple[np.ndarray, Inked]:
    """The ink's colour (light over that of the paper beside it, times the substrate, C),
    and how much of it every place of the template shows."""
    shape, model, place = pixels.shape, pixels.model, (fit.row_px, fit.col_px)
    codes = view.codes(*pixels.piece)[pixels.down, pixels.right]
    seen = to_light(codes, view.tone, float(np.iinfo(codes.dtype).max))
    usable = _usable(view, shape, place, pixels.piece)[pixels.down, pixels.right]
    bare = 1.0 - model
    slopes = bare * shape.rows / shape.half_rows, bare * shape.cols / shape.half_cols
    parts = np.stack([bare, model, *slopes])
    used = parts[:, usable]
    found = np.linalg.lstsq(used @ used.T, used @ seen[usable], rcond=None)[0]
    paper, ink = found[0], found[1]
    step = ink - paper
    # Cover against the paper as lit at each place, so that uneven light is not taken for ink.
    lit = paper + parts[2:].T @ found[2:]
    cover = (seen - lit) @ step / max(float(step @ step), 1e-12)
    area = np.where(shape.tile, float(TILE**2), 1.0) * usable
    colour = ink / np.maximum(paper, 1e-4) * view.palette.substrate
    offset_row, offset_col = pixels.row - place[0], pixels.col - place[1]
    return np.asarray(colour), Inked(offset_row, offset_col, area, cover, model)
