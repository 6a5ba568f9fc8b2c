"""Marks that touch or lie on each other: prepare their scene, fit it, say how it went."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from regscan.camera.camera import Camera
from regscan.job.layout import MarkDesign
from regscan.marks.candidates import Candidate
from regscan.marks.clusters import Box
from regscan.marks.flags import MarkFlag
from regscan.marks.joint import Guess, Joint, JointMark, Picture, fit_together
from regscan.marks.mark import Mark
from regscan.marks.outline import area_mm2
from regscan.marks.quality import LIMITS, cut_flags, joint_flags, status_of
from regscan.marks.scene import Window
from regscan.marks.stencil import stencil
from regscan.marks.template import Appearance
from regscan.marks.view import View, span

_ROOM_PX = 8  # bare substrate around the scene, besides what softness asks for
_MOST_LOOKS = 3
_SMALL_GROWTH_PX = 0.25


def measure_together(
    view: View,
    camera: Camera,
    designs: Sequence[MarkDesign],
    found: Sequence[Candidate],
    boxes: Sequence[Box],
    look: Appearance,
) -> list[Mark]:
    """One Mark per design, from a joint fit of all of them."""
    window = _window(view, boxes, look)
    rows = slice(window.row, window.row + window.rows)
    cols = slice(window.col, window.col + window.cols)
    light, weight = view.even_light(rows, cols)
    weight *= view.usable(list(boxes), rows, cols)[:, :, None]
    picture = Picture(window, light, weight)
    places = [(c.row_px, c.col_px) for c in found]
    softness = look.row_px, look.col_px
    growth = look.rounded().growth_px
    for _ in range(_MOST_LOOKS):
        guesses = [
            Guess(
                view.palette.names.index(design.ink),
                stencil(design.shape, camera.near(*place), growth),
                *place,
            )
            for design, place in zip(designs, places, strict=True)
        ]
        joint = fit_together(picture, guesses, view.palette, softness)
        places, softness = [(m.row_px, m.col_px) for m in joint.marks], joint.softness_px
        more = _growth(joint)
        if abs(more) < _SMALL_GROWTH_PX:
            break
        growth = Appearance(*softness, growth + more).rounded().growth_px
    return [
        _mark(design, mark, box, joint, _Frame(view, camera, growth))
        for design, mark, box in zip(designs, joint.marks, boxes, strict=True)
    ]


def _window(view: View, boxes: Sequence[Box], look: Appearance) -> Window:
    room = _ROOM_PX + 3.0 * max(look.row_px, look.col_px)
    top, bottom = (
        min(b.row - b.half_rows for b in boxes) - room,
        max(b.row + b.half_rows for b in boxes) + room,
    )
    left, right = (
        min(b.col - b.half_cols for b in boxes) - room,
        max(b.col + b.half_cols for b in boxes) + room,
    )
    rows = span((top + bottom) / 2.0, (bottom - top) / 2.0, view.size[0])
    cols = span((left + right) / 2.0, (right - left) / 2.0, view.size[1])
    return Window(rows.start, cols.start, rows.stop - rows.start, cols.stop - cols.start)


def _growth(joint: Joint) -> float:
    """Growth of the marks beyond their stencils, px: the median of those that are there."""
    known = sorted(m.growth_px for m in joint.marks if m.presence > 0.5)
    return known[len(known) // 2] if known else 0.0


@dataclass(frozen=True, slots=True)
class _Frame:
    """What all marks of one scene share; growth_px is that of their stencils."""

    view: View
    camera: Camera
    growth_px: float


def _mark(design: MarkDesign, mark: JointMark, box: Box, joint: Joint, frame: _Frame) -> Mark:
    missing = Mark(design.ink, design.edge, "missing", flags=MarkFlag.INK_UNSURE)
    if mark.presence < LIMITS.presence_least or not math.isfinite(mark.row_px):
        return missing
    moved = Box(mark.row_px, mark.col_px, box.half_rows, box.half_cols)
    flags = joint_flags(mark, joint.settled) | cut_flags(moved, frame.view.size)
    camera = frame.camera
    area_px = area_mm2(design.shape) / (camera.row_mm_per_px * camera.col_mm_per_px)
    seen = camera.near(mark.row_px, mark.col_px)
    outline = stencil(design.shape, seen, frame.growth_px).outline_px
    return replace(
        missing,
        status=status_of(flags),
        row_px=mark.row_px,
        col_px=mark.col_px,
        row_var=float(mark.covariance[0, 0]),
        col_var=float(mark.covariance[1, 1]),
        row_col_covar=float(mark.covariance[0, 1]),
        flags=flags,
        contrast=mark.contrast,
        edge_px=math.sqrt(joint.softness_px[0] * joint.softness_px[1]),
        area_ratio=1.0 + (frame.growth_px + mark.growth_px) * outline / area_px,
        misfit=mark.misfit,
    )
