"""Marks that stand clear of the others: fit them, look at their print, say how far to trust it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.layout import MarkDesign
from regscan.marks.clusters import Box
from regscan.marks.doubt import Wander
from regscan.marks.finding.candidates import Candidate
from regscan.marks.fitting.colourway import Piece, ink_piece
from regscan.marks.fitting.damage import Sound, best_start, damaged, pulled, sound_fit
from regscan.marks.fitting.fit import Fit, Inked, Start, fit_marks
from regscan.marks.fitting.looks import edge_widths, near_enough, seen_by
from regscan.marks.fitting.smear import Drawn, Smear, smear_like, smear_of
from regscan.marks.fitting.tint import tint_of
from regscan.marks.flags import MarkFlag
from regscan.marks.judging.print_quality import fills, printings_of, smear_pull
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
from regscan.marks.judging.shown import colours_shown
from regscan.marks.limits import LIMITS
from regscan.marks.mark import CLEAN, Mark
from regscan.marks.printing import Printing
from regscan.marks.seeing.view import View, span
from regscan.marks.shape.arcs import arcs_of
from regscan.marks.shape.template import Appearance, Template, template

_MOST_LOOKS = 4  # templates tried for one mark
_CLEAN_MISFIT = 0.012  # beyond noise, of the contrast: less needs no second look
_MISFIT_LEFT = 0.6  # of a bad smear's: damage explains the mark better
_EITHER = 0.7  # of the way to another place as likely: rms error of one taken at random


@dataclass(frozen=True, slots=True)
class Alone:
    """A mark measured by itself, its covariance that of white noise.

    look     the appearance it had, a good first look for other marks of the frame.
    wander   what its edge adds to its doubt; None for a missing mark.
    unlike   what its edge's pixels differ from the fit besides noise, share of the contrast.
    """

    mark: Mark
    look: Appearance
    wander: Wander | None = None
    unlike: float = 0.0


def measure_alone(
    view: View,
    camera: Camera,
    wanted: Sequence[tuple[MarkDesign, Candidate]],
    look: Appearance,
    slurred: tuple[float, float] | None = None,
) -> list[Alone]:
    """Marks near candidate places, each by itself though all are fitted side by side. Nothing is
    raised for a poor mark.

    look      appearance to begin with.
    slurred   which way the other marks of the frame are slurred, when they are."""
    tasks = [_task(view, camera, design, candidate, slurred) for design, candidate in wanted]
    found = [Alone(Mark(t.design.ink, t.design.edge, "missing"), look) for t in tasks]
    flags = [_cut_away(task, look) for task in tasks]
    whole = [k for k, flag in enumerate(flags) if not flag]
    seen = {}
    for k, fitted in zip(whole, _fits([tasks[k] for k in whole], look), strict=True):
        if fitted is None:
            flags[k] = MarkFlag.NO_FIT
        elif fitted.fit.contrast * tasks[k].due <= 0.0:
            flags[k] = MarkFlag.INK_UNSURE
        else:
            seen[k] = fitted
    marks = _judged(view, [tasks[k] for k in seen], list(seen.values())) if seen else []
    for (k, fitted), mark in zip(seen.items(), marks, strict=True):
        wander = _wander(fitted, mark, tasks[k].camera)
        found[k] = Alone(mark, fitted.look, wander, beyond_noise(fitted.fit))
    return [
        replace(one, mark=replace(one.mark, flags=flag)) if flag else one
        for one, flag in zip(found, flags, strict=True)
    ]


@dataclass(frozen=True, slots=True)
class _Task:
    """One mark to be measured, by the camera as it is there.

    direction   C, the colour direction in which its ink stands out most.
    due         light along it of the ink less that of the substrate.
    """

    view: View
    camera: Camera
    design: MarkDesign
    candidate: Candidate
    direction: np.ndarray
    due: float
    slurred: tuple[float, float] | None


def _task(
    view: View,
    camera: Camera,
    design: MarkDesign,
    candidate: Candidate,
    slurred: tuple[float, float] | None,
) -> _Task:
    camera = camera.near(candidate.row_px, candidate.col_px)
    direction = view.palette.direction(design.ink, camera.tone)
    due = float((view.palette.ink(design.ink) - view.palette.substrate) @ direction)
    return _Task(view, camera, design, candidate, direction, due, slurred)


def _cut_away(task: _Task, look: Appearance) -> MarkFlag:
    """CLIPPED where too much of a mark lies beyond the frame to be measured."""
    shape, place = template(task.design.shape, task.camera, look), task.candidate
    box = Box(place.row_px, place.col_px, shape.reach_rows, shape.reach_cols)
    cut = cut_share(box, task.view.size) > LIMITS.cut_away
    return MarkFlag.CLIPPED if cut else MarkFlag(0)


@dataclass(frozen=True, slots=True)
class _Fitted:
    """A fit, what it was made with, and the piece of the frame it read.

    smear     the ink beyond one edge that was taken out of the fit.
    sound     what was left out of it as damage.
    whole     all that shows within the outline, damage or the dots of a screen as well, where
              the fit is not of all of it.
    flags     of all that shows.
    """

    fit: Fit
    shape: Template
    look: Appearance
    piece: Piece
    smear: Smear | None = None
    sound: Sound | None = None
    whole: Inked | None = None
    flags: MarkFlag = CLEAN


def _fits(tasks: Sequence[_Task], look: Appearance) -> list[_Fitted | None]:
    """Fit, then again with the appearance the first fit saw, until that agrees."""
    found: list[_Fitted | None] = [None] * len(tasks)
    looks = [look] * len(tasks)
    places = [(task.candidate.row_px, task.candidate.col_px) for task in tasks]
    near = [task.candidate.near for task in tasks]
    going = list(range(len(tasks)))
    for _ in range(_MOST_LOOKS):
        shapes = [template(tasks[k].design.shape, tasks[k].camera, looks[k]) for k in going]
        pieces = [
            _piece(tasks[k], shape, places[k]) for k, shape in zip(going, shapes, strict=True)
        ]
        fits = fit_marks(
            [
                Start(piece.patch, shape, places[k], near[k])
                for k, shape, piece in zip(going, shapes, pieces, strict=True)
            ]
        )
        again = []
        for k, fit, shape, piece in zip(going, fits, shapes, pieces, strict=True):
            found[k] = _Fitted(fit, shape, looks[k], piece) if fit else None
            if fit and (own := _look_again(looks[k], fit, others=looks[k] is look)):
                places[k], near[k] = (fit.row_px, fit.col_px), fit.converged
                looks[k] = own
                again.append(k)
        going = again
        if not going:
            break
    return [
        _looked_into(task, fitted, look) if fitted else None
        for task, fitted in zip(tasks, found, strict=True)
    ]


def _look_again(look: Appearance, fit: Fit, *, others: bool) -> Appearance | None:
    """The appearance a mark should be fitted again with; None where the one it was fitted with
    does. Before damage is looked for, a misfit must not come of the look of other marks."""
    own = seen_by(look, fit).rounded()
    doubted = others and own != look and beyond_noise(fit) >= _CLEAN_MISFIT
    return own if doubted or not near_enough(look, fit) else None


def _piece(task: _Task, shape: Template, place: tuple[float, float]) -> Piece:
    rows, cols = _crop(task.view, shape, place, task.view.coarse.factor)
    usable = task.view.usable([Box(*place, shape.reach_rows, shape.reach_cols)], rows, cols)
    codes, corner = task.view.codes(rows, cols), (rows.start, cols.start)
    return ink_piece(codes, task.direction, task.camera.tone, usable, corner)


def _looked_into(task: _Task, fitted: _Fitted, look_of_others: Appearance) -> _Fitted:
    """A fit that does not explain its mark made again as of a tint, a smeared or a damaged
    mark, whichever explains it."""
    mm_per_px = task.camera.mm_per_px
    small = size_flags(fitted.fit, fitted.shape, mm_per_px)
    if not small and beyond_noise(fitted.fit) < _CLEAN_MISFIT:
        return fitted
    patch = fitted.piece.patch
    if pulled(fitted.fit):
        # Between dots a solid's edge has any softness: others tell it better.
        start = fitted.fit, fitted.shape, look_of_others
        tint = tint_of(patch, task.design.shape, task.camera, *start)
        if tint:
            look, shape = tint.look, tint.template
            return replace(fitted, fit=tint.fit, shape=shape, look=look, whole=fitted.fit.inked)
    drawn = Drawn(partial(template, task.design.shape, task.camera), look_of_others)
    if task.slurred:
        smear = smear_like(patch, drawn, fitted.fit, task.slurred)
    else:
        smear = smear_of(patch, drawn, fitted.fit, _late(task.camera))
    if smear and size_flags(smear.fit, smear.template, mm_per_px):
        smear = None
    if smear and not pulled(smear.fit):
        return _without_smear(fitted, smear)
    found = _undamaged(task, fitted, look_of_others)
    if smear and not found.fit.misfit < _MISFIT_LEFT * smear.fit.misfit:
        return _without_smear(fitted, smear)
    return found


def _without_smear(fitted: _Fitted, smear: Smear) -> _Fitted:
    return replace(fitted, fit=smear.fit, shape=smear.template, look=smear.look, smear=smear)


def _undamaged(task: _Task, fitted: _Fitted, usual: Appearance) -> _Fitted:
    """The fit with damage left out, if the mark shows any; with the appearance it then has.

    usual   the look of other marks: that of a damaged one is pulled as its place is.
    """
    look, fit, patch = fitted.look, fitted.fit, fitted.piece.patch
    # Half a triangle is a triangle, but a smaller one.
    flags = size_flags(fit, fitted.shape, task.camera.mm_per_px)
    partial = bool(flags)
    if not (partial or damaged(patch, fitted.shape, fit, _geometric(edge_widths(look, fit)))):
        return fitted
    if partial or pulled(fit):
        look = usual
    sound, found = None, fitted
    for _ in range(_MOST_LOOKS):
        shape, width = template(task.design.shape, task.camera, look), _geometric(look.softness)
        if sound is None:
            arcs, place = arcs_of(task.design.shape, task.camera), (fit.row_px, fit.col_px)
            sound = best_start(patch, shape, arcs, place, width, partial=partial)
        else:
            sound = sound_fit(patch, shape, sound.fit, sound.spoiled, width)
        if sound is None:
            break
        found = replace(
            fitted,
            fit=sound.fit,
            shape=shape,
            look=look,
            sound=sound,
            whole=sound.all_of_it,
            flags=flags,
        )
        if near_enough(look, sound.fit) or sound.lost > LIMITS.lost_outline:
            break  # of half a mark, its softness and growth cannot be told from a shift
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


def _geometric(widths: tuple[float, float]) -> float:
    return math.sqrt(widths[0] * widths[1])


def _wander(fitted: _Fitted, mark: Mark, camera: Camera) -> Wander:
    if fitted.smear:
        return fitted.smear.widened()
    wander = replace(fitted.fit.wander, pull=smear_pull(mark.printing, camera))
    if not fitted.sound:
        return wander
    sound = fitted.sound
    growth = replace(wander.growth, lost=sound.lost, told=not sound.known)
    either = _EITHER * sound.rival[0], _EITHER * sound.rival[1]
    return replace(wander, growth=growth, pull=either if any(either) else wander.pull)


def _judged(view: View, tasks: Sequence[_Task], fitted: Sequence[_Fitted]) -> list[Mark]:
    """Marks with their flags and print quality."""
    inked = Inked.together([one.fit.inked for one in fitted])
    colours, at_full = colours_shown(view, inked, [one.piece for one in fitted])
    edges = [edge_widths(one.look, one.fit) for one in fitted]
    printings = printings_of(inked, [task.camera for task in tasks], edges, at_full)
    inks = ink_flags(colours, view.palette, [task.design.ink for task in tasks])
    return [_mark(*one) for one in zip(tasks, fitted, printings, inks, strict=True)]


def _mark(task: _Task, fitted: _Fitted, printing: Printing, flags: MarkFlag) -> Mark:
    fit, shape, mm_per_px = fitted.fit, fitted.shape, task.camera.mm_per_px
    if fitted.whole:
        fill, patchiness = fills(fitted.whole, task.camera)
        printing = replace(printing, fill=fill, patchiness=patchiness)
    flags |= fitted.flags | fit_flags(fit, shape, task.view.size)
    flags |= size_flags(fit, shape, mm_per_px)
    if fitted.whole and not fitted.sound:
        flags |= tint_flags(fit, mm_per_px)
    if fitted.sound and fitted.sound.lost > LIMITS.lost_outline:
        flags |= MarkFlag.CROWDED
    flags |= printing_flags(printing)
    return Mark(
        ink=task.design.ink,
        edge=task.design.edge,
        status=status_of(flags),
        row_px=fit.row_px,
        col_px=fit.col_px,
        row_var=fit.row_var,
        col_var=fit.col_var,
        row_col_covar=fit.row_col_covar,
        flags=flags,
        contrast=fit.contrast,
        edge_px=_geometric(edge_widths(fitted.look, fit)),
        area_ratio=area_ratio(fit, shape),
        misfit=fit.misfit,
        printing=printing,
    )
