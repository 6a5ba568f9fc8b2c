"""What explains a mark's pixels: the design in full, a tint, ink run over one edge, or damage."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.layout import MarkDesign
from regscan.marks.clusters import Box
from regscan.marks.finding.candidates import Candidate
from regscan.marks.fitting.colourway import Piece, ink_piece
from regscan.marks.fitting.damage import Sound, best_start, damaged, pulled, sound_fit
from regscan.marks.fitting.fit import Fit, Start, fit_mark, fit_marks
from regscan.marks.fitting.inked import Inked
from regscan.marks.fitting.looks import edge_widths, near_enough, seen_by
from regscan.marks.fitting.smear import Drawn, Smear, seem_smeared, smear_like, smear_of
from regscan.marks.fitting.tint import tint_of
from regscan.marks.fitting.uneven import evened
from regscan.marks.flags import MarkFlag
from regscan.marks.judging.quality import beyond_edge_noise, beyond_noise, size_flags
from regscan.marks.limits import LIMITS
from regscan.marks.mark import CLEAN
from regscan.marks.seeing.view import View, span
from regscan.marks.shape.arcs import arcs_of
from regscan.marks.shape.template import Appearance, Template, template

_MOST_LOOKS = 4  # templates tried for one mark
_CLEAN_MISFIT = 0.012  # beyond noise, of the contrast: less needs no second look
# Beyond the edge's own noise: clean marks of drawn frames leave 0.007 at most, and three in four
# of JPEG frames 0.008; with tails or damage that were found they leave 0.014 and more.
_CLEAN_EDGE = 0.008
_PLAIN_MISFIT = 0.02  # of the contrast: noise is not held against more
_SMEAR_ALONE = 0.05  # misfit of a smear's fit: more may be damage that looks like one
_MISFIT_LEFT = 0.6  # of a bad smear's: damage explains the mark better


@dataclass(frozen=True, slots=True)
class Task:
    """One mark to be measured, by the camera as it is there.

    direction   C, the colour direction in which its ink stands out most.
    due         light along it of the ink less that of the substrate.
    slurred     which way the other marks of the frame are slurred, when they are.
    whole       True where nothing of it is taken to be damaged.
    partial     True where what shows cannot be all of it, by the others of its frame.
    """

    view: View
    camera: Camera
    design: MarkDesign
    candidate: Candidate
    direction: np.ndarray
    due: float
    slurred: tuple[float, float] | None
    whole: bool
    partial: bool


def task_of(
    view: View,
    camera: Camera,
    design: MarkDesign,
    candidate: Candidate,
    slurred: tuple[float, float] | None,
    *,
    whole: bool,
    partial: bool,
) -> Task:
    """One mark near a candidate place; slurred, whole and partial as in Task."""
    camera = camera.near(candidate.row_px, candidate.col_px)
    direction = view.palette.direction(design.ink, camera.tone)
    due = float((view.palette.ink(design.ink) - view.palette.substrate) @ direction)
    return Task(view, camera, design, candidate, direction, due, slurred, whole, partial)


@dataclass(frozen=True, slots=True)
class Explained:
    """A fit, what it was made with, and the piece of the frame it read.

    smear     the ink beyond one edge that was taken out of the fit.
    sound     what was left out of it as damage.
    whole     all that shows within the outline, damage or the dots of a screen as well, where
              the fit is not of all of it.
    flags     of all that shows.
    others    what other marks were taken to look like where more was looked for than the design;
              None where that explained the mark.
    """

    fit: Fit
    shape: Template
    look: Appearance
    piece: Piece
    smear: Smear | None = None
    sound: Sound | None = None
    whole: Inked | None = None
    flags: MarkFlag = CLEAN
    others: Appearance | None = None

    @property
    def as_others(self) -> bool:
        """Whether others of its frame will look as it does."""
        return self.others is None or self.smear is not None

    @property
    def edge_px(self) -> float:
        """Width of its edge, one sigma, mean of both axes."""
        return _geometric(edge_widths(self.look, self.fit))


def explained(tasks: Sequence[Task], look: Appearance, *, known: bool) -> list[Explained | None]:
    """Marks fitted as the design, then what that does not explain. None where nothing like one is
    there.

    look    appearance to begin with.
    known   True where other marks are known to look so; else those of these that the design
            explains tell it, the first one that of the rest.
    """
    found: dict[int, Explained] = {}
    put_off: list[int] = []
    numbers = range(len(tasks))
    for some in [numbers] if known else [numbers[:1], numbers[1:]]:
        fitted = _fitted([tasks[k] for k in some], look)
        now = {k: one for k, one in zip(some, fitted, strict=True) if one}
        found |= now
        for k, tailed in _asking({k: (tasks[k], one) for k, one in now.items()}).items():
            if tailed:
                found[k] = _looked_into(tasks[k], found[k], look, tailed=True)
            else:
                put_off.append(k)
        looks = [one.look for k, one in found.items() if k not in put_off and one.as_others]
        look = Appearance.usual(looks) if looks and not known else look
    # Last, as what is damaged is told by how the others look.
    for k in put_off:
        found[k] = _looked_into(tasks[k], found[k], look, tailed=False)
    return [found.get(k) for k in numbers]


def _fitted(tasks: Sequence[Task], look: Appearance) -> list[Explained | None]:
    """Marks fitted side by side, and again with the appearance the first fit saw, until that
    agrees; None where nothing like one is there."""
    found: list[Explained | None] = [None] * len(tasks)
    looks = [task.candidate.look or look for task in tasks]
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
            found[k] = Explained(fit, shape, looks[k], piece) if fit else None
            if fit and (own := _look_again(looks[k], fit, others=looks[k] is look)):
                places[k], near[k] = (fit.row_px, fit.col_px), fit.converged
                looks[k] = own
                again.append(k)
        going = again
        if not going:
            break
    return found


def _look_again(look: Appearance, fit: Fit, *, others: bool) -> Appearance | None:
    """The appearance a mark should be fitted again with; None where the one it was fitted with
    does. Before damage is looked for, a misfit must not come of the look of other marks."""
    near = near_enough(look, fit)
    if near and not (others and _leaves_much(fit)):
        return None
    own = seen_by(look, fit).rounded()
    return None if near and own == look else own


def _leaves_much(fit: Fit) -> bool:
    """Whether a fit leaves more of the edge than noise does."""
    # The first tells most marks, and takes next to no time.
    return beyond_noise(fit) >= _CLEAN_MISFIT and (
        fit.misfit >= _PLAIN_MISFIT or beyond_edge_noise(fit) >= _CLEAN_EDGE
    )


def _asking(seen: Mapping[int, tuple[Task, Explained]]) -> dict[int, bool]:
    """Marks of which more is to be explained, looked at side by side: by their numbers whether
    they ask for ink beyond an edge."""
    small = {
        k: task.partial or bool(size_flags(one.fit, one.shape, task.camera.mm_per_px))
        for k, (task, one) in seen.items()
    }
    doubted = {
        k: (task, one)
        for k, (task, one) in seen.items()
        if small[k] or beyond_noise(one.fit) >= _CLEAN_MISFIT
    }
    glanced = {
        k: (one.fit, _late(task.camera))
        for k, (task, one) in doubted.items()
        if not task.slurred and (small[k] or _leaves_much(one.fit))
    }
    tailed = dict(zip(glanced, seem_smeared(list(glanced.values())), strict=True))
    asking = {}
    for k, (task, one) in doubted.items():
        told = small[k] or task.slurred or tailed.get(k)
        if told or damaged(one.piece.patch, one.shape, one.fit, one.edge_px):
            asking[k] = tailed.get(k, False)
    return asking


def _piece(task: Task, shape: Template, place: tuple[float, float]) -> Piece:
    # Where a mark was followed to, a fit of it does not go about.
    slack = 0 if task.candidate.near else task.view.coarse.factor
    rows, cols = _crop(task.view, shape, place, slack)
    usable = task.view.usable([Box(*place, shape.reach_rows, shape.reach_cols)], rows, cols)
    codes, corner = task.view.codes(rows, cols), (rows.start, cols.start)
    return ink_piece(codes, task.direction, task.camera.tone, usable, corner)


def _looked_into(
    task: Task, fitted: Explained, look_of_others: Appearance, *, tailed: bool
) -> Explained:
    """A fit that does not explain its mark made again as of a tint, a smeared or a damaged
    mark, whichever explains it.

    tailed   whether it asks for ink beyond an edge."""
    fitted = replace(fitted, others=look_of_others)
    mm_per_px = task.camera.mm_per_px
    even = _evened(fitted)
    if even:
        fitted = even
        tailed = tailed and seem_smeared([(fitted.fit, _late(task.camera))])[0]
    patch = fitted.piece.patch
    if pulled(fitted.fit):
        # Between dots a solid's edge has any softness: others tell it better.
        start = fitted.fit, fitted.shape, look_of_others
        tint = tint_of(patch, task.design.shape, task.camera, *start)
        if tint:
            look, shape = tint.look, tint.template
            return replace(fitted, fit=tint.fit, shape=shape, look=look, whole=fitted.fit.inked)
    drawn = Drawn(partial(template, task.design.shape, task.camera), look_of_others)
    smear = None
    if task.slurred:
        smear = smear_like(patch, drawn, fitted.fit, task.slurred)
    elif tailed:
        smear = smear_of(patch, drawn, fitted.fit, _late(task.camera))
    if smear and size_flags(smear.fit, smear.template, mm_per_px):
        smear = None
    if smear and smear.fit.misfit < _SMEAR_ALONE:
        return _without_smear(fitted, smear)
    found = fitted
    if not task.whole:
        seen = not (even or tailed or task.slurred)  # nothing else was asked for
        found = _undamaged(task, fitted, look_of_others, seen=seen)
    if smear and not found.fit.misfit < _MISFIT_LEFT * smear.fit.misfit:
        return _without_smear(fitted, smear)
    return found


def _evened(fitted: Explained) -> Explained | None:
    """The fit with light that bends beside the mark taken out; None where it does not."""
    fit, shape = fitted.fit, fitted.shape
    even = evened(fitted.piece, shape, fit)
    again = fit_mark(even.patch, shape, fit.row_px, fit.col_px, near=True) if even else None
    if not (even and again) or again.misfit >= fit.misfit:
        return None
    return replace(fitted, fit=again, piece=even)


def _without_smear(fitted: Explained, smear: Smear) -> Explained:
    return replace(fitted, fit=smear.fit, shape=smear.template, look=smear.look, smear=smear)


def _undamaged(task: Task, fitted: Explained, usual: Appearance, *, seen: bool) -> Explained:
    """The fit with damage left out, if the mark shows any; with the appearance it then has.

    usual   the look of other marks: that of a damaged one is pulled as its place is.
    seen    True where damage is known to show.
    """
    fit, patch = fitted.fit, fitted.piece.patch
    # Half a triangle is a triangle, but a smaller one.
    flags = size_flags(fit, fitted.shape, task.camera.mm_per_px)
    partial = bool(flags) or task.partial
    if not (partial or seen or damaged(patch, fitted.shape, fit, fitted.edge_px)):
        return fitted
    whole: Fit | None = fit
    look, found = usual if partial or pulled(fit) else fitted.look, fitted
    shape = template(task.design.shape, task.camera, look)
    if look != fitted.look:
        whole = fit_mark(patch, shape, fit.row_px, fit.col_px, near=True)
    sound = None
    if whole:
        arcs, width = arcs_of(task.design.shape, task.camera), _geometric(look.softness)
        sound = best_start(patch, shape, arcs, whole, width, partial=partial)
    for looks_left in reversed(range(_MOST_LOOKS)):
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
        # Of half a mark, its softness and growth cannot be told from a shift.
        if near_enough(look, sound.fit) or sound.lost > LIMITS.lost_outline or not looks_left:
            break
        look = seen_by(look, sound.fit).rounded()
        shape = template(task.design.shape, task.camera, look)
        sound = sound_fit(patch, shape, sound.fit, sound.spoiled, _geometric(look.softness))
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
