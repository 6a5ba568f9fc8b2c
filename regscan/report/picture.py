"""The marks as a camera sees them, their offsets enlarged: geometry only, in drawing units.

Drawing units are pixels of a picture about as wide as half a page, right and
down as in the camera's picture; a small turn of the camera is left out.
"""

from collections.abc import Iterator
from typing import Any

from regscan.camera.camera import Camera
from regscan.drift.drift import Level
from regscan.job.job import AXES, Axis
from regscan.job.layout import MarkDesign
from regscan.job.shapes import extent_mm
from regscan.report.labels import Box, place_labels
from regscan.report.magnify import magnification
from regscan.report.orientation import half_size, upright, xy
from regscan.report.outlines import outlines
from regscan.report.swatches import swatch
from regscan.report.views import View, designs_seen, settled_pair
from regscan.report.words import side
from regscan.run import Run

# The mark set's longer side in drawing units, and the smallest one that is enlarged to it.
SIDE, SMALLEST_MM = 290.0, 2.0


def pictures(run: Run, views: list[View]) -> list[dict[str, Any]]:
    """One picture per view and web edge of its mark sets."""
    found = []
    for view in views:
        edges = dict.fromkeys(m.edge for m in designs_seen(run.job, view))
        found += [_picture(run, view, edge) for edge in edges]
    return found


def _picture(run: Run, view: View, edge: str) -> dict[str, Any]:
    designs = [m for m in designs_seen(run.job, view) if m.edge == edge]
    levels = {m.ink: settled_pair(run, view, run.job.station_of(m.ink).number) for m in designs}
    camera = upright(run, view, SIDE / max(_span_mm(designs), SMALLEST_MM))
    enlarged = magnification(_reaches(run, designs, levels), designs)
    marks = [_mark(run, camera, m, levels[m.ink], enlarged) for m in designs]
    frame = _label(marks)
    return {
        "words": view.words,
        "edge": edge,
        "magnification": enlarged,
        "web_travel": camera.web_travel,
        "drive_side": camera.drive_side,
        "substrate": swatch(run.job.substrate),
        "marks": marks,
        "box": [frame.left, frame.top, frame.width, frame.height],
        "unmeasurable": list(run.job.unmeasurable_inks),
    }


def _reaches(
    run: Run, designs: list[MarkDesign], levels: dict[str, dict[Axis, Level | None]]
) -> Iterator[float]:
    """Everything that is drawn from a design place, mm."""
    for design in designs:
        for axis, level in levels[design.ink].items():
            yield run.job.tolerance_for(design.ink).of(axis)
            yield abs(level.mean_mm) if level else 0.0


def _span_mm(designs: list[MarkDesign]) -> float:
    """The mark set's longer side, from design place to design place, mm."""
    along = [m.circumferential_mm for m in designs]
    across = [m.lateral_mm for m in designs]
    return max(max(along) - min(along), max(across) - min(across))


def _mark(
    run: Run,
    camera: Camera,
    design: MarkDesign,
    levels: dict[Axis, Level | None],
    enlarged: int,
) -> dict[str, Any]:
    job, number = run.job, run.job.station_of(design.ink).number
    reference = design.ink == job.reference
    known = reference or all(levels.values())
    tolerance = job.tolerance_for(design.ink)
    shift = [level.mean_mm * enlarged if level else 0.0 for level in levels.values()]
    return {
        "station": number,
        "ink": design.ink,
        "swatch": swatch(job.ink(design.ink).colour),
        "state": "reference" if reference else "measured" if known else "missing",
        "path": _path(camera, design),
        "at": xy(camera, (design.circumferential_mm, design.lateral_mm)),
        "shift": xy(camera, shift),
        "tolerance": half_size(camera, [tolerance.of(axis) * enlarged for axis in AXES]),
        "half": extent_mm(design.shape) / 2 / camera.mm_per_px,
        "lines": [f"{number} {design.ink}", *_words(reference, levels)],
    }


def _words(reference: bool, levels: dict[Axis, Level | None]) -> list[str]:
    if reference:
        return ["reference"]
    return [
        f"{abs(level.mean_mm):.3f} {side(axis, level.mean_mm)}" if level else f"{axis}: unknown"
        for axis, level in levels.items()
    ]


def _path(camera: Camera, design: MarkDesign) -> str:
    """SVG path of the mark about (0, 0)."""
    parts = []
    for outline in outlines(design.shape):
        points = [xy(camera, point) for point in outline]
        parts.append("M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points) + "Z")
    return "".join(parts)


def _label(marks: list[dict[str, Any]]) -> Box:
    """Give every mark a label beside the drawn things; returns the frame of it all."""
    drawn = [_drawn(mark) for mark in marks]
    sizes = [_label_size(mark["lines"]) for mark in marks]
    labels = place_labels(drawn, sizes)
    for mark, label in zip(marks, labels, strict=True):
        mark["label"] = [label.left, label.top, label.width, label.height]
    return Box.around([*drawn, *labels]).grown(16.0)


# Text of the picture in drawing units.
FONT = 17.0
LINE = 21.0


def _label_size(lines: list[str]) -> tuple[float, float]:
    return max(len(line) for line in lines) * FONT * 0.56 + 6.0, len(lines) * LINE + 4.0


def _drawn(mark: dict[str, Any]) -> Box:
    """The box around design outline, moved mark and tolerance box of one mark."""
    (x, y), (dx, dy), (tx, ty) = mark["at"], mark["shift"], mark["tolerance"]
    half = mark["half"]
    return Box.around(
        [
            Box.about(x, y, max(tx, half), max(ty, half)),
            Box.about(x + dx, y + dy, half, half),
        ]
    )
