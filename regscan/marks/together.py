"""Marks that touch or lie on each other: prepare their scene, fit it, say how it went."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.layout import MarkDesign
from regscan.marks.clusters import Box, hull
from regscan.marks.confused import twins_doubted
from regscan.marks.finding.candidates import Candidate
from regscan.marks.flags import MarkFlag
from regscan.marks.judging.quality import cut_flags, joint_flags, status_of
from regscan.marks.limits import LIMITS
from regscan.marks.mark import Mark
from regscan.marks.median import median
from regscan.marks.outlined import (
    Outlined,
    doubted_unseen,
    measure_outlined,
    surer,
)
from regscan.marks.overlap.binned import binned, binned_camera, coarse_factors
from regscan.marks.overlap.joint import Guess, InPrint, Joint, JointMark, draw_near, fit_together
from regscan.marks.overlap.mixture import Picture
from regscan.marks.overlap.scene import Window
from regscan.marks.seeing.inks import Palette
from regscan.marks.seeing.piece import Piece
from regscan.marks.seeing.view import View, span
from regscan.marks.shape.outline import grown_ratio
from regscan.marks.shape.stencil import stencil
from regscan.marks.shape.template import Appearance

_ROOM_PX = 8  # bare substrate around the scene, besides what softness asks for
_ALL_SHOWN = 0.9  # of an outline: the scene would add nothing to what it tells
_MOST_LOOKS = 2
# Outlines put marks within a part of a pixel. What does not settle then is not explained by
# marks alone: more rounds would not help.
_FEW_ROUNDS, _MOST_ROUNDS = 2, 6
_SOFTEST_NEAR = 0.4  # px of a coarse picture: its pixels' own size hides less
_SHOWS_EDGES = 2  # pixels taken together that still show how soft edges are
_SMALL_GROWTH_PX = 0.25
_ASTRAY = MarkFlag.NO_FIT | MarkFlag.MISSHAPEN


@dataclass(frozen=True, slots=True)
class Joined:
    """A mark measured with others it touches.

    outlined   what its outline told of it, or of something else there.
    look       the appearance of all, where they were fitted together.
    in_print   True where much else is printed among them: a joint fit tells little there."""

    mark: Mark
    outlined: Outlined | None
    look: Appearance | None = None
    in_print: bool = False


def measure_together(
    view: View,
    camera: Camera,
    designs: Sequence[MarkDesign],
    found: Sequence[Candidate],
    boxes: Sequence[Box],
    look: Appearance,
    before: Sequence[Joined] | None = None,
) -> list[Joined]:
    """One mark per design: by its outline, where that shows, and from a joint fit of all.

    before   what they were among more marks."""
    window = _window(view, boxes, look)
    rows = slice(window.row, window.row + window.rows)
    cols = slice(window.col, window.col + window.cols)
    light, weight = view.even_light(rows, cols)
    if _all_alike(light):
        # Where nothing says otherwise a scene has the colours that are due: it would show all.
        return _as_outlined([None] * len(designs), designs, camera)
    weight *= view.usable(list(boxes), rows, cols)[:, :, None]
    task = _Task(view, camera, designs, boxes, Picture(window, light, weight))
    piece = Piece.of(light, window.row, window.col)
    if before:
        seen = [one.outlined for one in before]
    else:
        seen = [
            measure_outlined(view, camera, design, box, piece, near=candidate.near)
            for design, box, candidate in zip(designs, boxes, found, strict=True)
        ]
    outlined = [None if o and o.denied else o for o in seen]
    in_print = bool(before and before[0].in_print)
    sure = [o for o in outlined if o and o.mark.status == "ok"]
    all_sure = len(sure) == len(outlined)
    if all_sure and (in_print or all(o.fit.support > _ALL_SHOWN for o in sure)):
        return _as_outlined(outlined, designs, camera)
    start = (_start_of(before) if before else None) or task.start(found, outlined, look)
    if start.hidden:
        return _as_outlined(outlined, designs, camera)
    wholes = task.wholes(start)
    marks = [
        surer(whole, o.mark) if o else doubted_unseen(whole, view, camera, design, piece)
        for whole, o, design in zip(wholes.marks, outlined, designs, strict=True)
    ]
    return [
        Joined(mark, o, wholes.look, wholes.in_print)
        for mark, o in zip(twins_doubted(marks, designs, camera), seen, strict=True)
    ]


def _all_alike(light: np.ndarray) -> bool:
    """Whether all pixels have one colour; most pictures show in a few that they have not."""
    first = light[0, 0]
    return bool((light[0] == first).all() and (light == first).all())


def _as_outlined(
    outlined: Sequence[Outlined | None], designs: Sequence[MarkDesign], camera: Camera
) -> list[Joined]:
    """The marks as their outlines tell them; missing where there is none."""
    marks = [
        o.mark if o else Mark(design.ink, design.edge, "missing", flags=MarkFlag.FAINT)
        for o, design in zip(outlined, designs, strict=True)
    ]
    return [
        Joined(*one) for one in zip(twins_doubted(marks, designs, camera), outlined, strict=True)
    ]


@dataclass(frozen=True, slots=True)
class _Wholes:
    """Marks from a joint fit, their common look, and in_print as in Joined."""

    marks: list[Mark]
    look: Appearance
    in_print: bool


@dataclass(frozen=True, slots=True)
class _Start:
    """Where a joint fit begins.

    places   M x 2 (row, col) px of the frame.
    look     the appearance of all marks.
    shown    True where outlines have told any place.   sure   where they have told all.
    hidden   True where they have told all that there is: of the other marks nothing shows."""

    places: np.ndarray
    look: Appearance
    shown: bool
    sure: bool
    hidden: bool = False


def _start_of(before: Sequence[Joined]) -> _Start | None:
    """What marks were among more of them; None where that was not what is printed there."""
    look, marks = before[0].look, [one.mark for one in before]
    # Of what hardly shows a residual says nothing.
    showing = [mark for mark in marks if not mark.flags & MarkFlag.FAINT]
    if look is None or any(mark.flags & _ASTRAY for mark in showing):
        return None
    sure = all(one.outlined and one.outlined.mark.status == "ok" for one in before)
    shown = any(one.outlined for one in before)
    return _Start(np.array([(mark.row_px, mark.col_px) for mark in marks]), look, shown, sure)


@dataclass(frozen=True)
class _Task:
    """One group of marks: what is read, and fits of it with pixels taken together."""

    view: View
    camera: Camera
    designs: Sequence[MarkDesign]
    boxes: Sequence[Box]
    picture: Picture

    @cached_property
    def palette(self) -> Palette:
        """The colours of the group's inks: those of a press may be more than a scene can hold."""
        return self.view.palette.of_inks({design.ink for design in self.designs})

    def start(
        self,
        found: Sequence[Candidate],
        outlined: Sequence[Outlined | None],
        look: Appearance,
    ) -> _Start:
        """Where outlines were seen, or else where coarse pictures put the candidates."""
        places = np.array(
            [
                (o.fit.row_px, o.fit.col_px) if o else (c.row_px, c.col_px)
                for o, c in zip(outlined, found, strict=True)
            ]
        )
        shown = [o for o in outlined if o]
        if shown:
            width = median([o.mark.edge_px for o in shown])
            look = Appearance(width, width, median([o.fit.growth_px for o in shown]))
        known = np.array([o is not None and o.mark.status == "ok" for o in outlined])
        hidden = False
        if len(shown) < len(outlined):
            unseen = np.array([o is None for o in outlined])
            for factor in coarse_factors(self.boxes, self.picture.window):
                places, look, lost = self.draw_near(factor, places, look, known)
                hidden = factor <= _SHOWS_EDGES and bool((known | (unseen & lost)).all())
        return _Start(places, look, bool(shown), bool(known.all()), hidden)

    def wholes(self, start: _Start) -> _Wholes:
        """All marks from joint fits; missing where these tell nothing of them."""
        places, look, looks = start.places, start.look, 1
        softness, growth = (look.row_px, look.col_px), look.rounded().growth_px
        while True:
            joint = self.fit(places, softness, growth, start)
            if isinstance(joint, InPrint):
                absent = [presence < LIMITS.presence_least for presence in joint.presence]
                return _Wholes(
                    [
                        _missing(design, absent=a)
                        for design, a in zip(self.designs, absent, strict=True)
                    ],
                    start.look,
                    True,
                )
            places = np.array([(m.row_px, m.col_px) for m in joint.marks])
            softness, more = joint.softness_px, _growth(joint)
            sound = joint.explained and all(m.settled for m in joint.marks)
            if not sound or abs(more) < _SMALL_GROWTH_PX or looks == _MOST_LOOKS:
                break
            growth, looks = Appearance(*softness, growth + more).rounded().growth_px, looks + 1
        frame = _Frame(self.view, self.camera, growth)
        marks = [
            _mark(design, mark, box, joint, frame)
            for design, mark, box in zip(self.designs, joint.marks, self.boxes, strict=True)
        ]
        return _Wholes(marks, Appearance(*softness, growth), not joint.explained)

    def draw_near(
        self, factor: int, places: np.ndarray, look: Appearance, known: np.ndarray
    ) -> tuple[np.ndarray, Appearance, np.ndarray]:
        """Places from a picture with factor x factor pixels taken together, those known as they
        are; the appearance where the pixels are few enough to show it; and which marks are lost
        there (see Near)."""
        softness = (
            max(look.row_px / factor, _SOFTEST_NEAR),
            max(look.col_px / factor, _SOFTEST_NEAR),
        )
        drawn = look.rounded().growth_px  # of few sizes, since stencils are costly
        guesses = self._guesses(factor, places, drawn, known)
        near = draw_near(binned(self.picture, factor), guesses, self.palette, softness)
        if factor <= _SHOWS_EDGES:
            row, col = near.softness_px
            growth = drawn + factor * float(np.clip(near.growth_px, -0.5, 0.5))
            look = Appearance(factor * row, factor * col, growth)
        return self._full(factor, near.places), look, near.lost

    def fit(
        self, places: np.ndarray, softness: tuple[float, float], growth_px: float, start: _Start
    ) -> Joint | InPrint:
        """The joint fit at full pixels, places in pixels of the frame."""
        guesses = self._guesses(1, places, growth_px, np.full(len(places), start.sure))
        rounds = _FEW_ROUNDS if start.sure else _MOST_ROUNDS
        joint = fit_together(
            binned(self.picture, 1), guesses, self.palette, softness, rounds, shown=start.shown
        )
        if isinstance(joint, InPrint):
            return joint
        full = self._full(1, np.array([(m.row_px, m.col_px) for m in joint.marks]))
        marks = tuple(
            replace(mark, row_px=float(place[0]), col_px=float(place[1]))
            for mark, place in zip(joint.marks, full, strict=True)
        )
        return replace(joint, marks=marks)

    def _guesses(
        self, factor: int, places: np.ndarray, growth_px: float, known: np.ndarray
    ) -> list[Guess]:
        camera = binned_camera(self.camera, factor)
        window = self.picture.window
        corner = np.array([window.row, window.col])
        own = (places - corner + 0.5) / factor - 0.5
        return [
            Guess(
                self.palette.names.index(design.ink),
                stencil(design.shape, camera, growth_px / factor),
                row,
                col,
                told,
            )
            for design, (row, col), told in zip(
                self.designs, own.tolist(), known.tolist(), strict=True
            )
        ]

    def _full(self, factor: int, places: np.ndarray) -> np.ndarray:
        corner = np.array([self.picture.window.row, self.picture.window.col])
        return (places + 0.5) * factor - 0.5 + corner


def _window(view: View, boxes: Sequence[Box], look: Appearance) -> Window:
    room = _ROOM_PX + 3.0 * max(look.row_px, look.col_px)
    whole = hull(boxes)
    rows = span(whole.row, whole.half_rows + room, view.size[0])
    cols = span(whole.col, whole.half_cols + room, view.size[1])
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


def _missing(design: MarkDesign, *, absent: bool) -> Mark:
    """A mark of which a joint fit tells no place, because it is absent or for another reason."""
    flag = MarkFlag.INK_UNSURE if absent else MarkFlag.NO_FIT
    return Mark(design.ink, design.edge, "missing", flags=flag)


def _mark(design: MarkDesign, mark: JointMark, box: Box, joint: Joint, frame: _Frame) -> Mark:
    missing = _missing(design, absent=True)
    if mark.presence < LIMITS.presence_least or not math.isfinite(mark.row_px):
        return missing
    if math.sqrt(mark.covariance.diagonal().max()) > LIMITS.centre_lost_px:
        return replace(missing, flags=MarkFlag.FAINT)
    if mark.misfit > LIMITS.misfit_most:
        return replace(missing, flags=MarkFlag.NO_FIT)
    moved = Box(mark.row_px, mark.col_px, box.half_rows, box.half_cols)
    camera = frame.camera
    seen = camera.near(mark.row_px, mark.col_px)
    outline = stencil(design.shape, seen, frame.growth_px).outline_px
    area = grown_ratio(design.shape, camera, frame.growth_px + mark.growth_px, outline)
    flags = joint_flags(mark, area) | cut_flags(moved, frame.view.size)
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
        area_ratio=area,
        misfit=mark.misfit,
    )
