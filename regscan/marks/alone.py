"""Marks that stand clear of the others: fit them, look at their print, say how far to trust it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from regscan.camera.camera import Camera
from regscan.job.layout import MarkDesign
from regscan.marks.clusters import Box
from regscan.marks.doubt import Wander
from regscan.marks.explained import Explained, Task, explained, task_of
from regscan.marks.finding.candidates import Candidate
from regscan.marks.fitting.fit import Fit, inked_by
from regscan.marks.fitting.looks import edge_widths
from regscan.marks.flags import MarkFlag
from regscan.marks.judging.print_quality import fills, printings_of, smear_pull
from regscan.marks.judging.quality import (
    any_of,
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
from regscan.marks.seeing.view import View
from regscan.marks.shape.template import Appearance, template

_EITHER = 0.7  # of the way to another place as likely: rms error of one taken at random


@dataclass(frozen=True, slots=True)
class Wanted:
    """A mark to be measured near a candidate place.

    whole     True where nothing of it is taken to be damaged.
    partial   True where what shows cannot be all of it, by the others of its frame.
    """

    design: MarkDesign
    candidate: Candidate
    whole: bool = False
    partial: bool = False


@dataclass(frozen=True, slots=True)
class Alone:
    """A mark measured by itself, its covariance that of white noise.

    look     the appearance it had, a good first look for other marks of the frame.
    wander   what its edge adds to its doubt; None for a missing mark.
    unlike   what its edge's pixels differ from the fit besides noise, share of the contrast.
    whole    True where nothing of it was taken to be damaged, see Wanted.
    others   what others were taken to look like where the design did not explain it, see Explained.
    """

    mark: Mark
    look: Appearance
    wander: Wander | None = None
    unlike: float = 0.0
    whole: bool = False
    others: Appearance | None = None


def measure_alone(
    view: View,
    camera: Camera,
    wanted: Sequence[Wanted],
    look: Appearance,
    slurred: tuple[float, float] | None = None,
    *,
    known: bool,
) -> list[Alone]:
    """Marks near candidate places, each by itself though all are fitted side by side. Nothing is
    raised for a poor mark.

    look      appearance to begin with; known: True where that is what the others look like.
    slurred   which way the other marks of the frame are slurred, when they are."""
    tasks = [
        task_of(
            view,
            camera,
            one.design,
            one.candidate,
            slurred,
            whole=one.whole,
            partial=one.partial,
        )
        for one in wanted
    ]
    found = [
        Alone(Mark(t.design.ink, t.design.edge, "missing"), look, whole=t.whole) for t in tasks
    ]
    flags = [_cut_away(task, look) for task in tasks]
    whole = [k for k, flag in enumerate(flags) if not flag]
    seen = {}
    fits = explained([tasks[k] for k in whole], look, known=known)
    for k, fitted in zip(whole, fits, strict=True):
        if fitted is None or _explains_nothing(fitted.fit):
            flags[k] = MarkFlag.NO_FIT
        elif fitted.fit.contrast * tasks[k].due <= 0.0:
            flags[k] = MarkFlag.INK_UNSURE
        else:
            seen[k] = fitted
    marks = _judged(view, [tasks[k] for k in seen], list(seen.values())) if seen else []
    for (k, fitted), mark in zip(seen.items(), marks, strict=True):
        wander = _wander(fitted, mark, tasks[k].camera)
        unlike = beyond_noise(fitted.fit)
        found[k] = Alone(mark, fitted.look, wander, unlike, tasks[k].whole, fitted.others)
    return [
        replace(one, mark=replace(one.mark, flags=flag)) if flag else one
        for one, flag in zip(found, flags, strict=True)
    ]


def _explains_nothing(fit: Fit) -> bool:
    """Whether a fit leaves as much of an edge as if there were none, or is still on its way and
    does not explain what is there: its doubt would be a guess as well."""
    return beyond_noise(fit) > (LIMITS.misfit_most if fit.converged else LIMITS.misfit)


def _cut_away(task: Task, look: Appearance) -> MarkFlag:
    """CLIPPED where too much of a mark lies beyond the frame to be measured."""
    shape, place = template(task.design.shape, task.camera, look), task.candidate
    box = Box(place.row_px, place.col_px, shape.reach_rows, shape.reach_cols)
    cut = cut_share(box, task.view.size) > LIMITS.cut_away
    return MarkFlag.CLIPPED if cut else CLEAN


def _wander(fitted: Explained, mark: Mark, camera: Camera) -> Wander:
    if fitted.smear:
        return fitted.smear.widened()
    wander = replace(fitted.fit.wander, pull=smear_pull(mark.printing, camera))
    if not fitted.sound:
        return wander
    sound = fitted.sound
    growth = replace(wander.growth, lost=sound.lost, told=not sound.known)
    either = _EITHER * sound.rival[0], _EITHER * sound.rival[1]
    return replace(wander, growth=growth, pull=either if any(either) else wander.pull)


def _judged(view: View, tasks: Sequence[Task], fitted: Sequence[Explained]) -> list[Mark]:
    """Marks with their flags and print quality."""
    inked = inked_by([one.fit for one in fitted])
    colours, at_full = colours_shown(view, inked, [one.piece for one in fitted])
    edges = [edge_widths(one.look, one.fit) for one in fitted]
    printings = printings_of(inked, [task.camera for task in tasks], edges, at_full)
    inks = ink_flags(colours, view.palette, [task.design.ink for task in tasks])
    return [_mark(*one) for one in zip(tasks, fitted, printings, inks, strict=True)]


def _mark(task: Task, fitted: Explained, printing: Printing, flags: MarkFlag) -> Mark:
    fit, shape, mm_per_px = fitted.fit, fitted.shape, task.camera.mm_per_px
    if fitted.whole:
        fill, patchiness = fills(fitted.whole)
        printing = replace(printing, fill=fill, patchiness=patchiness)
    if fitted.whole and not fitted.sound:
        flags |= tint_flags(fit, mm_per_px)
    if fitted.sound and fitted.sound.lost > LIMITS.lost_outline:
        flags |= MarkFlag.CROWDED
    flags = any_of(
        flags,
        fitted.flags,
        fit_flags(fit, shape, task.view.size),
        size_flags(fit, shape, mm_per_px),
        printing_flags(printing),
    )
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
        edge_px=fitted.edge_px,
        area_ratio=area_ratio(fit, shape),
        misfit=fit.misfit,
        printing=printing,
    )
