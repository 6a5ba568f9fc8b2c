"""A mark that stands clear of the others: fit it, look at its print, say how far to trust it."""

import math
from dataclasses import dataclass, replace
from functools import reduce

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.layout import MarkDesign
from regscan.marks.clusters import Box
from regscan.marks.doubt import Wander
from regscan.marks.finding.candidates import Candidate
from regscan.marks.fitting.colourway import ink_patch
from regscan.marks.fitting.damage import Sound, best_start, damaged, pulled, sound_fit
from regscan.marks.fitting.fit import Fit, Inked, fit_mark
from regscan.marks.fitting.looks import edge_widths, near_enough, seen_by
from regscan.marks.fitting.reading import Patch
from regscan.marks.fitting.smear import Smear, smear_like, smear_of
from regscan.marks.fitting.tint import tint_of
from regscan.marks.flags import MarkFlag
from regscan.marks.judging.print_quality import fills, printing_of
from regscan.marks.judging.quality import (
    area_ratio,
    beyond_noise,
    cut_share,
    fit_flags,
    ink_flags,
    printing_flags,
    size_flags,
    status_of,
    tint_flags,
)
from regscan.marks.limits import LIMITS
from regscan.marks.mark import Mark
from regscan.marks.printing import Printing
from regscan.marks.seeing.light import to_light
from regscan.marks.seeing.view import View, span
from regscan.marks.shape.template import Appearance, Template, template

_MOST_LOOKS = 4  # templates tried for one mark
_WELL_INSIDE = 0.9  # the fitted picture's ink share of pixels that show the ink's colour
_ENOUGH = 30  # flats that show a colour as well as all pixels do
_CLEAN_MISFIT = 0.012  # beyond noise, of the contrast: less needs no second look
_MISFIT_LEFT = 0.6  # of a bad smear's: damage explains the mark better
_SMEAR_PULL = 0.3
_SMEAR_SEEN_UM = 5.0  # less than this is noise


def measure_alone(
    view: View,
    camera: Camera,
    design: MarkDesign,
    candidate: Candidate,
    look: Appearance,
    smeared: tuple[float, float] | None = None,
) -> tuple[Mark, Appearance, Wander | None]:
    """The mark near a candidate place, and the appearance it had (a good first look for
    the next mark of the same frame). Its covariance is that of white noise; what its edge
    adds to that comes third, None for a missing mark. Nothing is raised for a poor mark.

    smeared   which way the other marks of the frame are smeared, when they are."""
    missing = Mark(design.ink, design.edge, "missing")
    camera = camera.near(candidate.row_px, candidate.col_px)
    shape = template(design.shape, camera, look)
    box = Box(candidate.row_px, candidate.col_px, shape.reach_rows, shape.reach_cols)
    if cut_share(box, view.size) > LIMITS.cut_away:
        return replace(missing, flags=MarkFlag.CLIPPED), look, None
    substrate, ink = view.palette.substrate, view.palette.ink(design.ink)
    direction = view.palette.direction(design.ink, camera.tone)
    fitted = _fit(_Task(view, camera, design, direction, smeared), candidate, look)
    if fitted is None:
        return replace(missing, flags=MarkFlag.NO_FIT), look, None
    fit = fitted.fit
    if fit.contrast * float((ink - substrate) @ direction) <= 0.0:
        return replace(missing, flags=MarkFlag.INK_UNSURE), look, None
    mark = _judged(view, camera, design, fitted)
    if fitted.smear is None:
        growth = replace(fit.wander.growth, lost=fitted.sound.lost if fitted.sound else 0.0)
        pull = _pulled(mark.printing, camera)
        return mark, fitted.look, replace(fit.wander, pull=pull, growth=growth)
    return mark, fitted.look, fitted.smear.widened()


@dataclass(frozen=True, slots=True)
class _Task:
    view: View
    camera: Camera
    design: MarkDesign
    direction: np.ndarray
    smeared: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class _Fitted:
    """A fit, what it was made with, and the piece of the frame it read.

    smear     the ink beyond one edge that was taken out of the fit.
    sound     what was left out of it as damage.
    whole     all that shows within the outline, damage or the dots of a screen as well, where
              the fit is not of all of it.
    """

    fit: Fit
    shape: Template
    look: Appearance
    codes: np.ndarray
    corner: tuple[int, int]
    smear: Smear | None = None
    sound: Sound | None = None
    whole: Inked | None = None


def _fit(task: _Task, candidate: Candidate, look: Appearance) -> _Fitted | None:
    """Fit, then again with the appearance the first fit saw, until that agrees."""
    place, near = (candidate.row_px, candidate.col_px), candidate.near
    look_of_others = look
    fitted = None
    for _ in range(_MOST_LOOKS):
        shape = template(task.design.shape, task.camera, look)
        rows, cols = _crop(task.view, shape, place, task.view.coarse.factor)
        usable = _usable(task.view, shape, place, (rows, cols))
        codes, corner = task.view.codes(rows, cols), (rows.start, cols.start)
        patch = ink_patch(codes, task.direction, task.camera.tone, usable, corner)
        fit = fit_mark(patch, shape, *place, near=near)
        if fit is None:
            return None
        place, near = (fit.row_px, fit.col_px), fit.converged
        fitted = _Fitted(fit, shape, look, codes, corner)
        if near_enough(look, fit):
            break
        look = seen_by(look, fit).rounded()
    if fitted is None or beyond_noise(fitted.fit) < _CLEAN_MISFIT:
        return fitted
    if pulled(fitted.fit):
        start = fitted.fit, fitted.shape, fitted.look
        tint = tint_of(patch, task.design.shape, task.camera, *start)
        if tint:
            look, shape = tint.look, tint.template
            return replace(fitted, fit=tint.fit, shape=shape, look=look, whole=fitted.fit.inked)
    if task.smeared:
        smear = smear_like(patch, fitted.shape, fitted.fit, task.smeared)
    else:
        smear = smear_of(patch, fitted.shape, fitted.fit, _late(task.camera))
    if smear and not pulled(smear.fit):
        return replace(fitted, fit=smear.fit, smear=smear)
    found = _undamaged(task, patch, fitted, look_of_others)
    if smear and not found.fit.misfit < _MISFIT_LEFT * smear.fit.misfit:
        return replace(fitted, fit=smear.fit, smear=smear)
    return found


def _undamaged(task: _Task, patch: Patch, fitted: _Fitted, usual: Appearance) -> _Fitted:
    """The fit with damage left out, if the mark shows any; with the appearance it then has.

    usual   the look of other marks: that of a damaged one is pulled as its place is.
    """
    look, fit = fitted.look, fitted.fit
    if not damaged(patch, fitted.shape, fit, _geometric(edge_widths(look, fit))):
        return fitted
    if pulled(fit):
        look = usual
    sound, found = None, fitted
    for _ in range(_MOST_LOOKS):
        shape, width = template(task.design.shape, task.camera, look), _geometric(look.softness)
        if sound is None:
            sound = best_start(patch, shape, (fit.row_px, fit.col_px), width)
        else:
            sound = sound_fit(patch, shape, sound.fit, sound.spoiled, width)
        if sound is None:
            break
        found = replace(
            fitted, fit=sound.fit, shape=shape, look=look, sound=sound, whole=sound.all_of_it
        )
        if near_enough(look, sound.fit):
            break
        look = seen_by(look, sound.fit).rounded()
    return found


def _late(camera: Camera) -> tuple[float, float]:
    """The way a mark's trailing edge faces in the picture, a step of 1 px (rows, cols)."""
    row, col = camera.step_to_pixels(camera.mm_per_px, 0.0)
    size = math.hypot(row, col)
    return round(row / size, 3), round(col / size, 3)


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


def _geometric(widths: tuple[float, float]) -> float:
    return math.sqrt(widths[0] * widths[1])


def _judged(view: View, camera: Camera, design: MarkDesign, fitted: _Fitted) -> Mark:
    """The mark with its flags and print quality."""
    fit, shape = fitted.fit, fitted.shape
    model = fit.inked.model
    solid = _pixels(fitted, np.flatnonzero(model > _WELL_INSIDE * float(model.max())))
    bare = _pixels(fitted, np.flatnonzero(model < 1.0 - _WELL_INSIDE))
    colour = _colour(view, solid, bare)
    edge_px = edge_widths(fitted.look, fit)
    at_full = max(_at_full(solid.codes), _at_full(bare.codes))
    printing = printing_of(fit.inked, camera, edge_px, at_full)
    if fitted.whole:
        fill, patchiness = fills(fitted.whole, camera)
        printing = replace(printing, fill=fill, patchiness=patchiness)
    flags = fit_flags(fit, shape, view.size) | size_flags(fit, shape, camera.mm_per_px)
    if fitted.whole and not fitted.sound:
        flags |= tint_flags(fit, camera.mm_per_px)
    if fitted.sound and fitted.sound.lost > LIMITS.lost_outline:
        flags |= MarkFlag.CROWDED
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
        edge_px=_geometric(edge_px),
        area_ratio=area_ratio(fit, shape),
        misfit=fit.misfit,
        printing=printing,
    )


@dataclass(frozen=True, slots=True)
class _Pixels:
    """Some of a fitted mark's pixels: their codes, n x C, and the ink they should show."""

    codes: np.ndarray
    ink: float


def _pixels(fitted: _Fitted, which: np.ndarray) -> _Pixels:
    """Pixels at some of the fit's places (indices); none that show other print."""
    inked = fitted.fit.inked
    area = inked.area.take(which)
    chosen = which.compress(area > 1.0)
    if chosen.size < _ENOUGH:  # a shape too narrow to have flats
        chosen = which.compress(area > 0.0)
    down, right = inked.pixel.take(chosen, axis=1)
    shown = inked.model.take(chosen)
    codes = fitted.codes[down - fitted.corner[0], right - fitted.corner[1]]
    return _Pixels(codes, float(shown.sum()) / shown.size if shown.size else math.nan)


def _at_full(codes: np.ndarray) -> float:
    """Share of pixels at either end of the scale in every channel."""
    top = np.iinfo(codes.dtype).max
    if not codes.size or (codes.max() < top and codes.min() > 0):
        return 0.0
    # Channel by channel: over an axis of three, numpy's own minimum is ten times slower.
    low, high = reduce(np.minimum, codes.T), reduce(np.maximum, codes.T)
    return float(((low == top) | (high == 0)).mean())


def _colour(view: View, solid: _Pixels, bare: _Pixels) -> np.ndarray:
    """The ink's light over that of the paper beside it, times the substrate's colour: C.

    NaN where either shows nowhere.
    """
    if not (solid.codes.size and bare.codes.size):
        return np.full(view.palette.substrate.shape, math.nan)
    full_scale = float(np.iinfo(solid.codes.dtype).max)
    seen, paper = (
        to_light(pixels.codes, view.tone, full_scale).sum(axis=0, dtype=float) / len(pixels.codes)
        for pixels in (solid, bare)
    )
    # A narrow or soft mark shows its full ink nowhere.
    ink = paper + (seen - paper) / max(solid.ink - bare.ink, 0.1)
    return np.asarray(np.maximum(ink, 0.0) / np.maximum(paper, 1e-4) * view.palette.substrate)


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
