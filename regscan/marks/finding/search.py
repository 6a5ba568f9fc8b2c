"""Search: prepare a frame and choose where each mark of the layout seems to be."""

import math
from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np

from regscan.camera.camera import Camera
from regscan.job.job import Job
from regscan.job.layout import Bar, Cross, MarkDesign, Ring
from regscan.marks.clusters import Box, clusters, hull
from regscan.marks.finding.assign import WINDOW_MM, Assignment, assign, shadows
from regscan.marks.finding.candidates import (
    HIDDEN_LIKENESS,
    LEAST_LIKENESS,
    Candidate,
    candidates,
    distinct,
    nearby,
)
from regscan.marks.finding.outlines import outline_places
from regscan.marks.mark import Mark
from regscan.marks.median import median
from regscan.marks.seeing.inks import palette_of
from regscan.marks.seeing.inkstep import InkStep
from regscan.marks.seeing.light import colour_planes
from regscan.marks.seeing.separate import Separator
from regscan.marks.seeing.view import View
from regscan.marks.shape.arcs import arcs_of
from regscan.marks.shape.template import Appearance, Template, template

FIRST_LOOK = Appearance(1.1, 1.1)
_COARSE_SIZE_PX = 9  # a mark in the coarse picture is about this many pixels wide
_COARSE_STROKE_PX = 2.2
_LEAST_CELLS = 16  # small pixels on each side of a picture
_LIKELY = 0.85  # likeness of marks that are well seen, on average
_PARTLY = 0.6  # of a mark with another one on it
_STRAYED = 0.3  # of a small pixel: further from where it was due, a mark has moved
_SOME_INK = 0.05
_AROUND = 2  # small pixels around a mark in which print touches it
_A_FEW = 3  # of them that are no speck
_APART = 0.1  # of what tells the picture's axes apart on the web, at least
_SOFTER = 0.25  # of what a fit of crisp edges reads, on each side
_WANDER_MM = 0.4  # how far marks usually move in the picture from one frame to the next


class Search:
    """Looks for one camera's marks anywhere in its frames, by ink, shape and layout together."""

    def __init__(self, job: Job, camera: Camera, designs: tuple[MarkDesign, ...]) -> None:
        self._job, self._camera, self._designs = job, camera, designs
        places = [camera.step_to_pixels(m.circumferential_mm, m.lateral_mm) for m in designs]
        self._places_px = np.array(places).reshape(-1, 2)
        straight = replace(camera, lens=None)  # how a lens bends a shape is too fine for a search
        self._shapes = [template(d.shape, straight, FIRST_LOOK) for d in designs]
        boxes = [
            Box(*place, shape.reach_rows, shape.reach_cols)
            for place, shape in zip(places, self._shapes, strict=True)
        ]
        groups = clusters(boxes, 0.0)
        self.piled = frozenset(n for group in groups if len(group) > 1 for n in group)
        self._factor = self._coarse_factor()
        self._separators: dict[int, Separator] = {}
        self._coarse_shapes: dict[tuple[int, int], np.ndarray] = {}
        self._rims: dict[tuple[int, int], np.ndarray] = {}

    def view(self, pixels: np.ndarray, area: Box | None = None, *, local: bool = False) -> View:
        """A frame's pixels prepared for measuring.

        area    marks are looked for there only.
        local   True reads the light close to the marks instead of all over the frame.
        """
        planes = colour_planes(pixels, self._camera)
        separator = self._separator(planes.shape[2])
        factor = max(1, min(self._factor, *(side // _LEAST_CELLS for side in planes.shape[:2])))
        width = self._width_px / factor if local else 0.0
        coarse = separator.separate(planes, factor, area, width)
        return View(planes, coarse, separator.palette, self._camera.tone, self._camera.lens)

    @property
    def _width_px(self) -> float:
        """Of the largest mark."""
        return 2.0 * max((max(s.reach_rows, s.reach_cols) for s in self._shapes), default=0.0)

    def seen(self, view: View) -> list[Candidate]:
        """Where each mark could be that stands clear."""
        found: list[Candidate] = []
        for number in range(len(self._designs)):
            found += self._candidates(view, number, LEAST_LIKENESS)
        return found

    def both(self, seen: Sequence[Candidate], other: Sequence[Candidate]) -> list[Candidate]:
        """What was seen in two views of one frame; of two at one place the likelier."""
        found: list[Candidate] = []
        for number, shape in enumerate(self._shapes):
            own = [candidate for candidate in (*seen, *other) if candidate.mark == number]
            found += distinct(own, min(shape.reach_rows, shape.reach_cols))
        return found

    def choose(self, view: View, found: list[Candidate]) -> Assignment:
        """The likeliest place of every mark that seems to be there."""
        window = WINDOW_MM / self._camera.mm_per_px
        choice = assign(found, self._places_px, window, [d.shape for d in self._designs])
        return self._with_hidden(view, choice)

    def follow(
        self, view: View, before: Sequence[Mark], looks: Sequence[Appearance | None]
    ) -> Assignment | None:
        """The places of all marks near those of the frame before; None when one is not there.

        looks   of marks that appear unlike the others, see `looks`.

        A web that wanders takes all marks along, so a mark is looked for where the others'
        common shift puts it; one that has moved among them is taken where it is seen.
        """
        reach = _WANDER_MM / self._camera.mm_per_px
        seen = []
        for number, mark in enumerate(before):
            shape = self._coarse_shape(number, view.coarse.factor)
            ink = view.palette.names.index(self._designs[number].ink)
            place = nearby(view.coarse, ink, shape, (mark.row_px, mark.col_px), reach)
            if place is None:
                return None
            seen.append(place)
        were = [(mark.row_px, mark.col_px) for mark in before]
        down = median([there[0] - was[0] for there, was in zip(seen, were, strict=True)])
        right = median([there[1] - was[1] for there, was in zip(seen, were, strict=True)])
        far = _STRAYED * view.coarse.factor
        chosen = {}
        for k, (was, there) in enumerate(zip(were, seen, strict=True)):
            due = was[0] + down, was[1] + right
            strayed = max(abs(due[0] - there[0]), abs(due[1] - there[1])) > far
            row, col = there if strayed else due
            chosen[k] = Candidate(k, row, col, 1.0, near=not strayed, look=looks[k])
        return Assignment(chosen, {})

    def outlines(self, view: View, number: int, sure: dict[int, Mark]) -> list[Candidate]:
        """Where a mark's outline shows, within the window about where others put it, and no sure
        mark of its shape lies."""
        common = np.median(
            [(m.row_px, m.col_px) - self._places_px[k] for k, m in sure.items()], axis=0
        )
        half = WINDOW_MM / self._camera.mm_per_px
        row, col = (self._places_px[number] + common).tolist()
        design, shape = self._designs[number], self._coarse_shape(number, view.coarse.factor)
        arcs = arcs_of(design.shape, self._camera.near(row, col))
        ink = InkStep.of(view.palette, design.ink)
        places = outline_places(
            view.coarse, arcs, ink, view.palette.substrate, shape, Box(row, col, half, half)
        )
        like = [m for k, m in sure.items() if self._designs[k].shape == design.shape]
        return [
            Candidate(number, row, col, shown)
            for row, col, shown in places
            if all(math.hypot(row - m.row_px, col - m.col_px) > view.coarse.factor for m in like)
        ]

    def box(self, number: int, candidate: Candidate) -> Box:
        """The extent of a mark at a candidate place."""
        shape = self._shapes[number]
        return Box(candidate.row_px, candidate.col_px, shape.reach_rows, shape.reach_cols)

    def touched(self, view: View, number: int, candidate: Candidate) -> bool:
        """Whether something else seems to be printed against a mark, on it or under it."""
        coarse = view.coarse
        rim = self._rim(number, coarse.factor)
        row, col = coarse.small(candidate.row_px, candidate.col_px)
        top, left = round(row) - rim.shape[0] // 2, round(col) - rim.shape[1] // 2
        rows, cols = (
            slice(min(max(first, 0), size), min(max(first + length, 0), size))
            for first, length, size in zip(
                (top, left), rim.shape, coarse.printed.shape, strict=True
            )
        )
        own = rim[rows.start - top : rows.stop - top, cols.start - left : cols.stop - left]
        return bool(np.count_nonzero(coarse.printed[rows, cols] & own) >= _A_FEW)

    def light_may_mislead(self, view: View, choice: Assignment) -> bool:
        """Whether marks are missing or unlikely that another reading of the light could show."""
        separator = self._separator(view.planes.shape[2])
        if not separator.bare_is_brightest:
            return False
        numbers = [number for number in choice.chosen if number not in choice.hidden]
        boxes = [self.box(number, choice.chosen[number]) for number in numbers]
        likely = 0.0
        for group in clusters(boxes, view.coarse.factor):
            for number in (numbers[k] for k in group):
                # Marks on each other look unlike themselves in any light; but one that was not
                # to be there, and hardly looks so, may only seem to be.
                own = choice.chosen[number].likeness
                excused = number in self.piled or own >= _PARTLY
                likely += _LIKELY if len(group) > 1 and excused else own
        if likely >= _LIKELY * len(self._designs):
            return False
        return separator.light_changes_fast(view.coarse, self._width_px / view.coarse.factor)

    def area(self, marks: Sequence[Mark]) -> Box:
        """Where all marks of the next frame should lie, with what a fit of them reads."""
        room = _WANDER_MM / self._camera.mm_per_px + self._factor
        return hull(
            [
                Box(m.row_px, m.col_px, room + shape.half_rows, room + shape.half_cols)
                for m, shape in zip(marks, self._shapes, strict=True)
            ]
        )

    def rows(self, marks: Sequence[Mark]) -> slice:
        """Rows of the next frame that are looked at when these marks are followed."""
        area, tallest = self.area(marks), max(shape.half_rows for shape in self._shapes)
        # Edges that turn softer are read further out.
        half = area.half_rows + self._factor + _SOFTER * tallest
        last = math.ceil(max(area.row + half, _LEAST_CELLS * self._factor))
        return slice(max(math.floor(area.row - half), 0), last)

    def looks(self, marks: Sequence[Mark]) -> tuple[Appearance, list[Appearance | None]]:
        """The appearance that measured marks have on the whole, softness and growth, and of each
        its own where the former does not do for it."""
        looks = [
            self._look_of(mark, shape) for mark, shape in zip(marks, self._shapes, strict=True)
        ]
        usual = Appearance.usual(looks).rounded()
        return usual, [None if usual.does_for(look) else look.rounded() for look in looks]

    def _look_of(self, mark: Mark, shape: Template) -> Appearance:
        """The appearance that a measured mark has."""
        # Each width on the web is the root of the sum of what the image axes add to it.
        (a, b), (c, d) = ((row**2, col**2) for row, col in self._camera.matrix)
        along = (mark.printing.edge_circumferential_um / 1000.0) ** 2
        across = (mark.printing.edge_lateral_um / 1000.0) ** 2
        growth_px = (mark.area_ratio - 1.0) * shape.area_px / shape.area_per_growth_px
        apart, most = a * d - b * c, a * d + b * c
        if abs(apart) < _APART * most:  # the web runs at 45 degrees: the axes are not told apart
            return Appearance(mark.edge_px, mark.edge_px, growth_px)
        squares = (d * along - b * across) / apart, (a * across - c * along) / apart
        row, col = (math.sqrt(s) if s > 0.0 else mark.edge_px for s in squares)
        return Appearance(row, col, growth_px)

    def _coarse_factor(self) -> int:
        if not self._designs:
            return 1
        sizes = [2.0 * min(shape.reach_rows, shape.reach_cols) for shape in self._shapes]
        strokes = [_stroke_mm(d) / self._camera.mm_per_px for d in self._designs]
        return max(1, int(min(min(sizes) / _COARSE_SIZE_PX, min(strokes) / _COARSE_STROKE_PX)))

    def _separator(self, channels: int) -> Separator:
        if channels not in self._separators:
            names = tuple(dict.fromkeys(design.ink for design in self._designs))
            palette = palette_of(self._job, names, mono=channels == 1)
            self._separators[channels] = Separator(palette, self._camera.tone)
        return self._separators[channels]

    def _coarse_shape(self, number: int, factor: int) -> np.ndarray:
        key = number, factor
        if key not in self._coarse_shapes:
            self._coarse_shapes[key] = _coarse_shape(self._shapes[number], factor)
        return self._coarse_shapes[key]

    def _rim(self, number: int, factor: int) -> np.ndarray:
        """Small pixels beside a mark, where nothing else should be printed: bool."""
        key = number, factor
        if key not in self._rims:
            shape = np.pad(self._coarse_shape(number, factor) > _SOME_INK, _AROUND)
            own = cv2.dilate(shape.astype(np.uint8), np.ones((3, 3), np.uint8))
            near = cv2.dilate(own, np.ones((2 * _AROUND + 1,) * 2, np.uint8))
            self._rims[key] = near > own
        return self._rims[key]

    def _candidates(
        self, view: View, number: int, least: float, upon: Sequence[Box] | None = None
    ) -> list[Candidate]:
        shape = self._coarse_shape(number, view.coarse.factor)
        ink = view.palette.names.index(self._designs[number].ink)
        return candidates(view.coarse, ink, shape, number, least=least, upon=upon)

    def _with_hidden(self, view: View, choice: Assignment) -> Assignment:
        """Marks not found in the open may lie under others: the joint fit will tell."""
        boxes = [self.box(number, candidate) for number, candidate in choice.chosen.items()]
        hidden = {}
        for number in set(range(len(self._designs))) - set(choice.chosen):
            for candidate in self._candidates(view, number, HIDDEN_LIKENESS, boxes):
                box = self.box(number, candidate)
                touches = any(box.meets(other, 0.0) for other in boxes)
                if touches and not self._shadow(candidate, choice):
                    hidden[number] = candidate
                    break
        likeness = sum(candidate.likeness for candidate in choice.chosen.values())
        chosen, unseen = {**choice.chosen, **hidden}, frozenset(hidden)
        return replace(choice, chosen=chosen, hidden=unseen, likeness=likeness)

    def _shadow(self, candidate: Candidate, choice: Assignment) -> bool:
        """Whether a faint mark seems to lie just on one of its own shape, without being meant to:
        all inks that share a colour with the one printed there seem to be there a little."""
        shapes = [design.shape for design in self._designs]
        meant = candidate.mark in self.piled
        return not meant and any(shadows(candidate, c, shapes) for c in choice.chosen.values())


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
    half_rows = math.ceil((shape.reach_rows + factor) / factor)
    half_cols = math.ceil((shape.reach_cols + factor) / factor)
    want = ((2 * half_rows + 1) * factor, (2 * half_cols + 1) * factor)
    canvas = np.zeros(want, np.float32)
    _paste(canvas, shape.picture((2, 2)))
    # An even factor has no middle pixel: half a pixel off does no harm to a first guess.
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
