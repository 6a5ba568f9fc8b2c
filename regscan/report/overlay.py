"""Marked-up frames: where each colour lies, where it should, and the offset enlarged."""

import math
from dataclasses import dataclass

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.job import Job
from regscan.recording.frame import Frame
from regscan.report.captions import caption, strip
from regscan.report.display import for_the_eye, zoom_for, zoomed
from regscan.report.labels import Box, labels_in_view
from regscan.report.magnify import magnification
from regscan.report.pen import DARK, Pen
from regscan.report.sights import Sight, reaches, sights
from regscan.report.signs import around, draw_sight

WIDE_ENOUGH_PX = 960
MARGIN = (226, 230, 234)  # behind labels that stand beside the picture


@dataclass(frozen=True, slots=True)
class Shown:
    """A frame with its rows of the run's tables, and what is needed to read them."""

    frame: Frame
    marks: np.ndarray
    offsets: np.ndarray
    job: Job
    camera: Camera

    @property
    def magnification(self) -> int:
        """How many times offsets can be enlarged here without running into each other."""
        info = self.frame.info
        designs = list(self.job.marks_seen(info.camera, info.edge))
        return magnification(reaches(self.offsets, self.job), designs)


@dataclass(frozen=True, slots=True)
class Style:
    """wide_px: least width of the picture; line: width of its lines; enlarged: of offsets."""

    wide_px: int = WIDE_ENOUGH_PX
    line: float = 1.0
    enlarged: int | None = None


@dataclass(frozen=True, slots=True)
class Marked:
    """A frame with its marks drawn in, before any words.

    pen      holds the picture; enlarged: how many times offsets and boxes are enlarged in it.
    seen     the marks that have a place.
    """

    pen: Pen
    seen: list[Sight]
    enlarged: int


def draw_overlay(
    frame: Frame, marks: np.ndarray, offsets: np.ndarray, job: Job, camera: Camera
) -> np.ndarray:
    """The frame with its marks explained: H x W x 3 uint8 (R, G, B).

    marks, offsets   this frame's rows of the run's tables.

    Small frames are enlarged by a whole number, and a strip below the picture says
    what is drawn. A thin + shows the measured place, the dashed outline the design
    place, the box the tolerance about it, the thick line the offset; box and line are
    enlarged as the strip says. Doubtful marks stand in a broken triangle, missing ones
    are crossed out; both say so in words. A label that finds no free place stands
    beside the picture: none ever covers a mark. The design places rest on the
    reference mark: without it, only measured places can be drawn.
    """
    marked = mark_up(Shown(frame, marks, offsets, job, camera))
    pen, _ = labelled(marked, [sight.lines for sight in marked.seen])
    words = caption(frame.info.name, marks, offsets, job)
    return np.vstack([pen.picture, strip(pen, words, camera, marked.enlarged)])


def mark_up(shown: Shown, style: Style = Style()) -> Marked:
    """The frame with its marks drawn in and no words yet."""
    zoom = zoom_for(shown.frame.pixels.shape[1], style.wide_px)
    pen = Pen(zoomed(for_the_eye(shown.frame, shown.camera), zoom), style.line)
    enlarged = style.enlarged or shown.magnification
    found = sights(shown.marks, shown.offsets, shown.job, shown.camera, enlarged)
    seen = [s.enlarged(zoom) for s in found if s.measured is not None or s.design is not None]
    for sight in seen:
        draw_sight(pen, sight)
    return Marked(pen, seen, enlarged)


def labelled(marked: Marked, words: list[list[str]]) -> tuple[Pen, list[Box]]:
    """The picture with words beside every mark and as much margin as they need; their places.

    words   the lines for each mark of `marked.seen`.
    """
    rows, cols = marked.pen.picture.shape[:2]
    gap = 6.0 * marked.pen.scale
    things = [around(marked.pen, sight).grown(gap / 2) for sight in marked.seen]
    sizes = [marked.pen.text_size(lines) for lines in words]
    places, frame = labels_in_view(things, sizes, Box(0.0, 0.0, float(cols), float(rows)), gap)
    canvas = np.full((math.ceil(frame.height), math.ceil(frame.width), 3), MARGIN, np.uint8)
    canvas[:rows, :cols] = marked.pen.picture
    pen = Pen(canvas, marked.pen.scale)
    for thing, box in zip(things, places, strict=True):
        if not box.grown(2 * gap).overlap(thing):
            pen.line([thing.nearest(*box.centre), box.centre], DARK, 1.0)
    for box, lines in zip(places, words, strict=True):
        pen.label(box, lines)
    return pen, places
