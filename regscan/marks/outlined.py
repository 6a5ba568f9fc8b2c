"""A mark measured by its outline alone, where other print lies on it, under it or beside it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.layout import MarkDesign
from regscan.marks.clusters import Box
from regscan.marks.finding.outlines import seek
from regscan.marks.flags import MarkFlag
from regscan.marks.judging.quality import (
    cut_flags,
    outline_flags,
    own_ink_beyond,
    status_of,
    step_flags,
    with_flag,
)
from regscan.marks.limits import LIMITS
from regscan.marks.mark import Mark
from regscan.marks.overlap.edgewise import EdgeFit, fit_edges, shown_at, witness
from regscan.marks.seeing.inkstep import InkStep
from regscan.marks.seeing.piece import Piece
from regscan.marks.seeing.separate import BARE
from regscan.marks.seeing.view import View, span
from regscan.marks.shape.arcs import arcs_of
from regscan.marks.shape.outline import grown_ratio

_FIRST_WIDTH_PX = 1.3
_SEARCHED = 2.0  # coarse pixels that a candidate may be off by
_ROOM_PX = 12.0
_ON_PRINT = 0.1  # of an outline beside which something else is printed
# Little of its outline shows, and that as another ink's step, or as another shape's whose place is
# hardly known: of drawn first prints with an ink left out nine of ten such lay on artwork.
_NOTHING_FOR_IT = (
    MarkFlag.CROWDED | MarkFlag.INK_UNSURE,
    MarkFlag.CROWDED | MarkFlag.FAINT | MarkFlag.MISSHAPEN,
)
_SOME = 3  # arcs: fewer may be astray
_JUDGED, _JUDGED_SHARE = 5, 0.25  # arcs, and share of them, that say something of a mark
# Of the width of an edge squared: what the pixels' own size and reading between them add.
_PIXELS_VAR = 0.2


@dataclass(frozen=True, slots=True)
class Outlined:
    """A mark by its outline.   fit   what it rests on.   beside   share of its outline that has
    other print, not bare substrate, beside it or hiding it."""

    mark: Mark
    fit: EdgeFit
    beside: float

    @property
    def on_print(self) -> bool:
        """Whether more than a speck is printed beside it, or on it."""
        return self.beside > _ON_PRINT

    @property
    def denied(self) -> bool:
        """Whether it speaks for something else that is printed there, not for the mark."""
        return any(doubts in self.mark.flags for doubts in _NOTHING_FOR_IT)


def measure_outlined(
    view: View,
    camera: Camera,
    design: MarkDesign,
    box: Box,
    piece: Piece | None = None,
    *,
    near: bool = False,
    grown: tuple[float, float] | None = None,
) -> Outlined | None:
    """The mark near its box's middle; None where its outline does not show there.

    piece   of the frame around the box, where it has been read before.
    near    True where the middle is good to a fraction of a pixel.
    grown   its growth, px, and the variance of that, where other marks tell it.
    """
    camera = camera.near(box.row, box.col)
    arcs, ink = arcs_of(design.shape, camera), InkStep.of(view.palette, design.ink)
    reach = 0.0 if near else _SEARCHED * view.coarse.factor
    if piece is None:
        piece = _piece_about(view, box, reach)
    place = box.row, box.col
    if not near and arcs.count:
        place = seek(piece, arcs, ink, place, reach)
    fit = fit_edges(piece, arcs, ink, place, _FIRST_WIDTH_PX, grown)
    if fit is None or fit.support < LIMITS.outline_least:
        return None
    mark = _mark(view, camera, design, box, fit, arcs.length)
    root = np.sqrt(np.maximum(fit.outside, 0.0)) - np.sqrt(view.palette.substrate)
    printed = np.abs(root).max(axis=1) > BARE
    return Outlined(mark, fit, float(printed.mean()))


def _piece_about(view: View, box: Box, reach_px: float) -> Piece:
    """The frame about a mark's box that may lie so far off."""
    rows = span(box.row, box.half_rows + reach_px + _ROOM_PX, view.size[0])
    cols = span(box.col, box.half_cols + reach_px + _ROOM_PX, view.size[1])
    return Piece.of(view.light(rows, cols), rows.start, cols.start)


def _mark(
    view: View, camera: Camera, design: MarkDesign, box: Box, fit: EdgeFit, length: float
) -> Mark:
    area_ratio = grown_ratio(design.shape, camera, fit.growth_px, length)
    runs_on = own_ink_beyond(fit.outside, view.palette, design.ink)
    moved = Box(fit.row_px, fit.col_px, box.half_rows, box.half_cols)
    flags = outline_flags(fit, area_ratio, camera.mm_per_px, runs_on) | cut_flags(moved, view.size)
    flags |= step_flags(fit, view.palette, design.ink)
    return Mark(
        ink=design.ink,
        edge=design.edge,
        status=status_of(flags),
        row_px=fit.row_px,
        col_px=fit.col_px,
        row_var=float(fit.covariance[0, 0]),
        col_var=float(fit.covariance[1, 1]),
        row_col_covar=float(fit.covariance[0, 1]),
        flags=flags,
        contrast=fit.contrast,
        edge_px=math.sqrt(max(fit.width_px**2 - _PIXELS_VAR, 0.04)),
        area_ratio=area_ratio,
        misfit=fit.misfit,
    )


def doubted_unseen(
    mark: Mark, view: View, camera: Camera, design: MarkDesign, piece: Piece
) -> Mark:
    """A mark placed without its outline having been found: doubtful where that should show
    and does not, and where it can show nowhere."""
    arcs = arcs_of(design.shape, camera.near(mark.row_px, mark.col_px))
    if mark.status != "ok" or arcs.count < _JUDGED:
        return mark
    ink, place = InkStep.of(view.palette, design.ink), (mark.row_px, mark.col_px)
    seen = witness(piece, arcs, ink, place, mark.edge_px)
    if seen.visible < _JUDGED:
        return with_flag(mark, MarkFlag.FAINT)
    judged = seen.clear >= max(_JUDGED, _JUDGED_SHARE * seen.visible)
    denied = judged and seen.shown < LIMITS.outline_least * seen.clear
    return with_flag(mark, MarkFlag.MISSHAPEN) if denied else mark


def told_from(
    view: View, camera: Camera, design: MarkDesign, mark: Mark, rivals: Sequence[str]
) -> dict[str, float]:
    """How far a mark's ink is told from each of the rivals': share of its outline at which the
    step is clearly less like the rival's; 0 where that is a matter of a stray arc or two. In one
    channel no ink is told from another."""
    arcs = arcs_of(design.shape, camera.near(mark.row_px, mark.col_px))
    ink = InkStep.of(view.palette, design.ink)
    box = Box(mark.row_px, mark.col_px, arcs.reach_px, arcs.reach_px)
    piece = _piece_about(view, box, 0.0)
    width = math.sqrt(mark.edge_px**2 + _PIXELS_VAR)
    inside, outside = shown_at(piece, arcs, ink, (mark.row_px, mark.col_px), width)
    if not len(inside):
        return dict.fromkeys(rivals, 0.0)  # no arc shows it, or none is long enough to
    left = InkStep.of_all(view.palette).unlike(inside, outside)
    names = view.palette.names
    told = {}
    for rival in rivals:
        worse = left[names.index(rival)] - left[names.index(design.ink)] > LIMITS.step_rival
        told[rival] = float(worse.mean()) if np.count_nonzero(worse) >= _SOME else 0.0
    return told


def surer(whole: Mark, outlined: Mark) -> Mark:
    """Of a mark read as a whole and by its outline the better: ok before doubtful; of two ok
    the surer, of two doubtful the outline, which other print misleads less. Two that
    contradict each other leave doubt; a part of an outline alone does not make a mark where
    its colour is not printed."""
    if outlined.status != "ok":
        absent = whole.status == "missing" and MarkFlag.INK_UNSURE in whole.flags
        return whole if whole.status == "ok" or absent else outlined
    if whole.status != "ok":
        return outlined
    best = min(whole, outlined, key=lambda m: m.row_var + m.col_var)
    gap = math.hypot(whole.row_px - outlined.row_px, whole.col_px - outlined.col_px)
    doubt = math.sqrt(whole.row_var + whole.col_var + outlined.row_var + outlined.col_var)
    if gap > LIMITS.readings_apart * doubt:
        return with_flag(best, MarkFlag.MISSHAPEN)
    return best
