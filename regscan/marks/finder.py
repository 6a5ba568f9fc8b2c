"""MarkFinder: every mark of the layout in one frame, with its doubt.

The order of work: planes -> coarse cover maps -> candidates -> one joint choice
-> a fit per mark -> flags. Nothing is remembered from frame to frame, so frames
can be measured in any order and by any number of processes with the same result.
"""

import math
from dataclasses import replace

import cv2
import numpy as np

from regscan.camera.camera import Camera
from regscan.job.job import Job
from regscan.job.layout import Bar, Cross, MarkDesign, Ring
from regscan.marks.assign import WINDOW_MM, Assignment, assign
from regscan.marks.candidates import (
    HIDDEN_LIKENESS,
    LEAST_LIKENESS,
    Candidate,
    candidates,
)
from regscan.marks.clusters import Box, clusters
from regscan.marks.colourway import ink_direction, ink_patch
from regscan.marks.fit import Fit, fit_mark
from regscan.marks.flags import MarkFlag
from regscan.marks.inks import palette_of
from regscan.marks.lateral import at_green, channel_shares
from regscan.marks.light import colour_planes, to_light
from regscan.marks.mark import Mark
from regscan.marks.quality import (
    LIMITS,
    area_ratio,
    cut_share,
    fit_flags,
    ink_flags,
    status_of,
)
from regscan.marks.separate import Separator
from regscan.marks.template import Appearance, Template, template
from regscan.marks.together import measure_together
from regscan.marks.view import View, span
from regscan.recording.frame import Frame

_FIRST_LOOK = Appearance(1.1, 1.1)
_TOUCHING_PX = 6  # marks closer than this are measured together
_MOST_LOOKS = 4  # templates tried for one mark
_COARSE_SIZE_PX = 9  # a mark in the coarse picture is about this many pixels wide
_COARSE_STROKE_PX = 2.2


class MarkFinder:
    """Finds and measures the marks that one camera should see.

    Raises KeyError for a camera the press does not have.
    """

    def __init__(self, job: Job, camera: Camera, *, camera_name: str = "", edge: str = "") -> None:
        self.job, self.camera = job, camera
        self.designs: tuple[MarkDesign, ...] = tuple(
            mark for mark in job.marks_seen(camera_name, edge) if job.ink(mark.ink).measurable
        )
        places = [camera.step_to_pixels(m.circumferential_mm, m.lateral_mm) for m in self.designs]
        self._places_px = np.array(places).reshape(-1, 2)
        self._factor = self._coarse_factor()
        self._separators: dict[int, Separator] = {}

    def measure(self, frame: Frame) -> list[Mark]:
        """One Mark per design mark, in the layout's order; nothing is raised for a poor frame."""
        planes = colour_planes(frame.pixels, self.camera)
        separator = self._separator(planes.shape[2])
        factor = max(1, min(self._factor, *(side // 16 for side in planes.shape[:2])))
        coarse = separator.separate(planes, factor)
        view = View(planes, coarse, separator.palette, self.camera.tone)
        choice = self._choose(view)
        measured = self._measure_chosen(view, choice)
        return _flag_smears(
            [
                measured.get(number, Mark(design.ink, design.edge, "missing"))
                for number, design in enumerate(self.designs)
            ]
        )

    def _measure_chosen(self, view: View, choice: Assignment) -> dict[int, Mark]:
        """Marks standing clear one by one, first; then each group that touches, together."""
        numbers = sorted(choice.chosen)
        boxes = [self._box(number, choice.chosen[number]) for number in numbers]
        room = _TOUCHING_PX + view.coarse.factor
        groups = clusters(boxes, room)
        measured: dict[int, Mark] = {}
        look = _FIRST_LOOK
        for group in sorted(groups, key=len):
            members = {numbers[k]: boxes[k] for k in group}
            if len(members) > 1:
                marks = self._measure_group(view, choice, members, look)
                measured.update(marks)
                # What the joint fit did not find is not there; the rest fits better without.
                present = {n: members[n] for n, mark in marks.items() if mark.status != "missing"}
                if len(present) == len(members):
                    continue
                members = present
            if len(members) > 1:
                measured.update(self._measure_group(view, choice, members, look))
            for number in members if len(members) == 1 else ():
                design = self.designs[number]
                measured[number], look = self._measure_one(view, design, number, choice, look)
        return measured

    def _measure_group(
        self, view: View, choice: Assignment, members: dict[int, Box], look: Appearance
    ) -> dict[int, Mark]:
        designs = [self.designs[number] for number in members]
        found = [choice.chosen[number] for number in members]
        boxes = list(members.values())
        marks = measure_together(view, self.camera, designs, found, boxes, look)
        return dict(zip(members, marks, strict=True))

    def _box(self, number: int, candidate: Candidate) -> Box:
        shape = self._template(self.designs[number], _FIRST_LOOK)
        return Box(candidate.row_px, candidate.col_px, shape.reach_rows, shape.reach_cols)

    def _coarse_factor(self) -> int:
        sizes, strokes = [], []
        for design in self.designs:
            shape = template(design.shape, self.camera, _FIRST_LOOK)
            sizes.append(2.0 * min(shape.reach_rows, shape.reach_cols))
            strokes.append(_stroke_mm(design) / self.camera.mm_per_px)
        if not sizes:
            return 1
        return max(1, int(min(min(sizes) / _COARSE_SIZE_PX, min(strokes) / _COARSE_STROKE_PX)))

    def _separator(self, channels: int) -> Separator:
        if channels not in self._separators:
            names = tuple(dict.fromkeys(design.ink for design in self.designs))
            palette = palette_of(self.job, names, mono=channels == 1)
            self._separators[channels] = Separator(palette, self.camera.tone)
        return self._separators[channels]

    def _choose(self, view: View) -> Assignment:
        found: list[Candidate] = []
        for number in range(len(self.designs)):
            found += self._candidates(view, number, LEAST_LIKENESS)
        choice = assign(found, self._places_px, WINDOW_MM / self.camera.mm_per_px)
        return self._with_hidden(view, choice)

    def _candidates(self, view: View, number: int, least: float) -> list[Candidate]:
        design = self.designs[number]
        shape = _coarse_shape(self._template(design, _FIRST_LOOK), view.coarse.factor)
        ink = view.palette.names.index(design.ink)
        return candidates(view.coarse, ink, shape, number, least=least)

    def _with_hidden(self, view: View, choice: Assignment) -> Assignment:
        """Marks not found in the open may lie under others: the joint fit will tell."""
        boxes = [self._box(number, candidate) for number, candidate in choice.chosen.items()]
        hidden = {}
        for number in set(range(len(self.designs))) - set(choice.chosen):
            for candidate in self._candidates(view, number, HIDDEN_LIKENESS):
                box = self._box(number, candidate)
                if any(box.meets(other, 0.0) for other in boxes):
                    hidden[number] = candidate
                    break
        return Assignment({**choice.chosen, **hidden}, choice.rivals)

    def _template(self, design: MarkDesign, look: Appearance) -> Template:
        return template(design.shape, self.camera, look)

    def _measure_one(
        self, view: View, design: MarkDesign, number: int, choice: Assignment, look: Appearance
    ) -> tuple[Mark, Appearance]:
        missing = Mark(design.ink, design.edge, "missing")
        candidate = choice.chosen.get(number)
        if candidate is None:
            return missing, look
        shape = self._template(design, look)
        box = Box(candidate.row_px, candidate.col_px, shape.reach_rows, shape.reach_cols)
        if cut_share(box, view.size) > 0.3:
            return replace(missing, flags=MarkFlag.CLIPPED), look
        fitted = self._fit(view, design, candidate, look)
        if fitted is None:
            return replace(missing, flags=MarkFlag.NO_FIT), look
        fit, shape, look = fitted
        expected = view.palette.ink(design.ink) - view.palette.substrate
        direction = ink_direction(
            view.palette.substrate, view.palette.ink(design.ink), self.camera.tone
        )
        if fit.contrast * float(expected @ direction) <= 0.0:
            return replace(missing, flags=MarkFlag.INK_UNSURE), look
        flags = fit_flags(fit, shape, view.size)
        flags |= ink_flags(self._colour(view, shape, fit), view.palette, design.ink)
        if choice.rivals.get(number, 0.0) > LIMITS.rival_likeness:
            flags |= MarkFlag.INK_UNSURE
        mark = _mark(design, fit, shape, look, flags)
        if self.camera.lens is not None and len(direction) == 3:
            mark = at_green(mark, self.camera.lens, channel_shares(direction, expected))
        return mark, look

    def _fit(
        self, view: View, design: MarkDesign, candidate: Candidate, look: Appearance
    ) -> tuple[Fit, Template, Appearance] | None:
        """Fit, then again with the softness the first fit saw, until that agrees."""
        ink = view.palette.ink(design.ink)
        direction = ink_direction(view.palette.substrate, ink, self.camera.tone)
        place = candidate.row_px, candidate.col_px
        fitted = None
        for _ in range(_MOST_LOOKS):
            shape = self._template(design, look)
            corner, codes = _crop(view.planes, shape, place, view.coarse.factor)
            usable = _usable(view, shape, place, corner, codes)
            patch = ink_patch(codes, direction, self.camera.tone, usable, corner)
            fit = fit_mark(patch, shape, *place)
            if fit is None:
                return None
            place = fit.row_px, fit.col_px
            fitted = fit, shape, look
            if _near_enough(look, fit):
                break
            look = _seen(look, fit).rounded()
        return fitted

    def _colour(self, view: View, shape: Template, fit: Fit) -> np.ndarray:
        """Light of the ink over the light of the paper beside it, times the substrate, C."""
        place = fit.row_px, fit.col_px
        corner, codes = _crop(view.planes, shape, place, 0)
        light = to_light(codes, self.camera.tone, float(np.iinfo(codes.dtype).max))
        phase, row, col = shape.phase_of(*place)
        rows = np.clip(shape.rows + row - corner[0], 0, codes.shape[0] - 1)
        cols = np.clip(shape.cols + col - corner[1], 0, codes.shape[1] - 1)
        seen, ink = light[rows, cols], shape.design(phase)[:, 3]
        usable = _usable(view, shape, place, corner, codes)[rows, cols]
        parts = np.stack([1.0 - ink[usable], ink[usable]])
        paper, inked = np.linalg.lstsq(parts @ parts.T, parts @ seen[usable], rcond=None)[0]
        return np.asarray(inked / np.maximum(paper, 1e-4) * view.palette.substrate)


def _stroke_mm(design: MarkDesign) -> float:
    """The narrowest part of a shape that the coarse picture must still show."""
    match design.shape:
        case Cross(stroke_mm=stroke):
            return stroke
        case Ring(diameter_mm=outer, inner_diameter_mm=inner):
            return (outer - inner) / 2.0
        case Bar(width_mm=width):
            return width
    return math.inf


def _coarse_shape(shape: Template, factor: int) -> np.ndarray:
    """The mark at the coarse scale, centred, with a rim of paper; odd sizes."""
    picture = shape.picture((2, 2))
    half_rows = math.ceil((shape.reach_rows + factor) / factor)
    half_cols = math.ceil((shape.reach_cols + factor) / factor)
    want = ((2 * half_rows + 1) * factor, (2 * half_cols + 1) * factor)
    canvas = np.zeros(want, np.float32)
    _paste(canvas, picture)
    # An even factor has no middle pixel: sampling half a pixel off on purpose, see Coarse.full.
    return np.asarray(
        cv2.resize(canvas, (want[1] // factor, want[0] // factor), interpolation=cv2.INTER_AREA)
    )


def _paste(canvas: np.ndarray, picture: np.ndarray) -> None:
    """Put picture in the middle of canvas, cutting what does not fit."""
    slices = []
    for room, size in zip(canvas.shape, picture.shape, strict=True):
        start = (room - size) // 2
        slices.append(
            (slice(max(start, 0), min(start + size, room)), slice(max(-start, 0), room - start))
        )
    (to_rows, from_rows), (to_cols, from_cols) = slices
    piece = picture[from_rows, from_cols]
    canvas[to_rows, to_cols] = piece[: to_rows.stop - to_rows.start, : to_cols.stop - to_cols.start]


def _crop(
    planes: np.ndarray, shape: Template, place: tuple[float, float], slack: int
) -> tuple[tuple[int, int], np.ndarray]:
    """The piece of the frame a fit near `place` may touch, and its corner."""
    rows = span(place[0], shape.half_rows + slack + 2, planes.shape[0])
    cols = span(place[1], shape.half_cols + slack + 2, planes.shape[1])
    return (rows.start, cols.start), planes[rows, cols]


def _usable(
    view: View,
    shape: Template,
    place: tuple[float, float],
    corner: tuple[int, int],
    codes: np.ndarray,
) -> np.ndarray:
    rows = slice(corner[0], corner[0] + codes.shape[0])
    cols = slice(corner[1], corner[1] + codes.shape[1])
    return view.usable([Box(*place, shape.reach_rows, shape.reach_cols)], rows, cols)


def _near_enough(look: Appearance, fit: Fit) -> bool:
    """The fit corrects for an appearance a little off the template's: a quarter in
    variance, a fifth of a pixel in growth."""
    off = abs(fit.blur_row_var) / look.row_px**2, abs(fit.blur_col_var) / look.col_px**2
    return max(off) < 0.25 and abs(fit.growth_px) < 0.2


def _seen(look: Appearance, fit: Fit) -> Appearance:
    """The appearance a fit saw: the template's and what it found on top."""

    def width(own: float, extra: float) -> float:
        return math.sqrt(max(own**2 + float(np.clip(extra, -0.6 * own**2, 3.0 * own**2)), 0.16))

    return Appearance(
        width(look.row_px, fit.blur_row_var),
        width(look.col_px, fit.blur_col_var),
        look.growth_px + float(np.clip(fit.growth_px, -1.5, 1.5)),
    )


def _mark(design: MarkDesign, fit: Fit, shape: Template, look: Appearance, flags: MarkFlag) -> Mark:
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
        edge_px=math.sqrt(look.row_px * look.col_px),
        area_ratio=area_ratio(fit, shape),
        misfit=fit.misfit,
    )


def _flag_smears(marks: list[Mark]) -> list[Mark]:
    """A mark much softer than the others of its frame, or softer than any use."""
    widths = [mark.edge_px for mark in marks if mark.status != "missing"]
    if not widths:
        return marks
    limit = min(LIMITS.edge_width_px, LIMITS.edge_over_others * float(np.median(widths)))
    return [_with_flag(mark, MarkFlag.SMEARED) if mark.edge_px > limit else mark for mark in marks]


def _with_flag(mark: Mark, flag: MarkFlag) -> Mark:
    flags = mark.flags | flag
    return replace(mark, flags=flags, status=status_of(flags))
