"""Marked-up frames: where each colour lies, where it should, and the offset enlarged."""

from dataclasses import replace

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.job import Job
from regscan.recording.frame import Frame
from regscan.report.display import for_the_eye
from regscan.report.labels import Box, place_labels
from regscan.report.magnify import magnification
from regscan.report.pen import DARK, Pen
from regscan.report.sights import Point, Sight, reaches, sights

WIDE_ENOUGH_PX = 960
_DOUBT_REACH, _WIDEST = 1.3, 2.1  # of the triangle round a doubtful mark, in half marks
IN, OUT, DOUBT = (0, 86, 130), (176, 36, 8), (96, 48, 160)


def draw_overlay(
    frame: Frame, marks: np.ndarray, offsets: np.ndarray, job: Job, camera: Camera
) -> np.ndarray:
    """The frame with its marks explained: H x W x 3 uint8 (R, G, B).

    marks, offsets   this frame's rows of the run's tables.

    Small frames are enlarged by a whole number, and a strip below the picture says
    what is drawn. A thin + shows the measured place, the box the tolerance about
    the design place, the thick line the offset; box and line are enlarged as the
    strip says. Doubtful marks stand in a broken triangle, missing ones are crossed
    out; both say so in words. The design places rest on the reference mark:
    without it, only measured places can be drawn.
    """
    zoom = _zoom(frame.pixels.shape[1])
    pen = Pen(_zoomed(for_the_eye(frame, camera), zoom))
    designs = list(job.marks_seen(frame.info.camera, frame.info.edge))
    enlarged = magnification(reaches(offsets, job), designs)
    found = sights(_moved(marks, zoom), offsets, job, _sharper(camera, zoom), enlarged)
    seen = [s for s in found if s.measured is not None or s.design is not None]
    for sight in seen:
        _draw(pen, sight)
    _label(pen, seen)
    lost = [str(row["ink"]) for row in marks if row["status"] == "missing"]
    return np.vstack([pen.picture, _strip(pen, frame, enlarged, lost, job)])


def _zoom(cols: int) -> int:
    """Whole-number enlargement that gives labels room; 1 for a picture wide enough."""
    return min(max(-(-WIDE_ENOUGH_PX // cols), 1), 4)


def _zoomed(picture: np.ndarray, zoom: int) -> np.ndarray:
    if zoom == 1:
        return picture
    import cv2

    large = cv2.resize(picture, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_CUBIC)
    return np.ascontiguousarray(large)


def _moved(marks: np.ndarray, zoom: int) -> np.ndarray:
    """The marks' places in the enlarged picture; pixel centres lie at whole numbers."""
    moved = marks.copy()
    for name in ("row_px", "col_px"):
        moved[name] = (marks[name] + 0.5) * zoom - 0.5
    return moved


def _sharper(camera: Camera, zoom: int) -> Camera:
    return replace(
        camera,
        row_mm_per_px=camera.row_mm_per_px / zoom,
        col_mm_per_px=camera.col_mm_per_px / zoom,
    )


def _draw(pen: Pen, sight: Sight) -> None:
    colour = DOUBT if sight.status == "doubtful" else OUT if sight.outside else IN
    if sight.design is not None and sight.box[0]:
        (x, y), (wide, high) = sight.design, sight.box
        corners = [(x - wide, y - high), (x + wide, y - high), (x + wide, y + high)]
        pen.line([*corners, (x - wide, y + high), corners[0]], DARK, 1.0)
    if sight.status == "missing":
        _cross_out(pen, sight)
        return
    if sight.measured is not None:
        pen.plus(sight.measured, 0.45 * sight.half)
    if sight.status == "doubtful" and sight.measured is not None:
        x, y = sight.measured
        reach = _DOUBT_REACH * sight.half
        corners = [(x, y - 1.6 * reach), (x + 1.5 * reach, y + reach), (x - 1.5 * reach, y + reach)]
        pen.dashes([*corners, corners[0]], DOUBT, 2.5)
    if sight.design is not None and sight.tip is not None:
        pen.line([sight.design, sight.tip], colour, 4.0)
        _end(pen, sight.tip, colour, sight.outside)


def _end(pen: Pen, at: Point, colour: tuple[int, int, int], outside: bool) -> None:
    """A square at the end of an offset outside tolerance, a small stop at one inside."""
    x, y = at
    half = (6.0 if outside else 2.5) * pen.scale
    corners = [(x - half, y - half), (x + half, y - half), (x + half, y + half)]
    pen.line([*corners, (x - half, y + half), corners[0]], colour, 2.0)


def _cross_out(pen: Pen, sight: Sight) -> None:
    if sight.design is None:
        return
    x, y = sight.design
    reach = sight.half + 8 * pen.scale
    pen.line([(x - reach, y - reach), (x + reach, y + reach)], OUT, 3.0)
    pen.line([(x - reach, y + reach), (x + reach, y - reach)], OUT, 3.0)
    angles = np.linspace(0, 2 * np.pi, 25)
    ring = [(x + 1.5 * reach * np.cos(a), y + 1.5 * reach * np.sin(a)) for a in angles]
    pen.dashes(ring, OUT, 2.0)


def _around(sight: Sight) -> Box:
    """Everything drawn for one mark."""
    around = sight.half * (_WIDEST if sight.status == "doubtful" else 1.0)
    own = sight.half if sight.status == "missing" else 0.0
    wide, high = sight.box
    extents = (
        (sight.measured, around, around),
        (sight.design, max(wide, own), max(high, own)),
        (sight.tip, 4.0, 4.0),
    )
    return Box.around(Box.about(*place, x, y) for place, x, y in extents if place is not None)


def _label(pen: Pen, seen: list[Sight]) -> None:
    """Words beside every mark; they cover no mark and stay inside the picture."""
    rows, cols = pen.picture.shape[:2]
    sizes = [pen.text_size(sight.lines) for sight in seen]
    frame = Box(0.0, 0.0, float(cols), float(rows))
    gap = 6.0 * pen.scale
    things = [_around(sight).grown(gap / 2) for sight in seen]
    places = place_labels(things, sizes, frame, gap)
    for thing, box in zip(things, places, strict=True):
        if not box.grown(2 * gap).overlap(thing):
            pen.line([thing.centre, box.centre], DARK, 1.0)
    for sight, box in zip(seen, places, strict=True):
        pen.label(box, sight.lines)


def _strip(pen: Pen, frame: Frame, enlarged: int, lost: list[str], job: Job) -> np.ndarray:
    """What the drawing means, on a strip of its own below the picture."""
    lines = [
        f"{frame.info.name}: thick line = offset from the design place, box = tolerance,"
        f" both drawn {enlarged} x as large; + = measured place",
        f"Missing: {', '.join(lost)}" if lost else f"Reference: {job.reference}",
    ]
    wide = pen.picture.shape[1]
    size = pen.text_size(lines)
    high = round(size[1])
    strip = Pen(np.zeros((high, wide, 3), np.uint8), pen.scale * min(wide / size[0], 1.0))
    strip.label(Box(0.0, 0.0, float(wide), float(high)), lines)
    return strip.picture
