"""The marks as a camera sees them, their offsets enlarged: geometry only, in drawing units.

Drawing units are pixels of a picture about as wide as half a page, right and
down as in the camera's picture; a small turn of the camera is left out.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from regscan.camera.camera import Camera
from regscan.drift.drift import Level, Stretch
from regscan.drift.words import doubt_decimals
from regscan.job.job import AXES, Axis
from regscan.job.layout import MarkDesign
from regscan.job.shapes import extent_mm
from regscan.report.labels import Box, place_labels
from regscan.report.magnify import magnification
from regscan.report.orientation import half_size, upright, worst_places, xy
from regscan.report.outlines import outlines
from regscan.report.swatches import swatch
from regscan.report.views import View, designs_seen, settled_pair, stations_seen, worst_outside
from regscan.report.words import ON_PLACE, plain, side
from regscan.run import Run

# The mark set's longer side in drawing units, and the smallest one that is enlarged to it.
SIDE, SMALLEST_MM = 440.0, 2.0


def pictures(run: Run, views: list[View]) -> list[dict[str, Any]]:
    """One picture per view and web edge of its mark sets.

    `first` holds for the camera that sees most colours, the last one on the press
    where several see as many: its pictures stand on top of the page.
    """
    most = max(reversed(views), key=lambda view: len(stations_seen(run.job, view)), default=None)
    found = []
    for view in views:
        edges = dict.fromkeys(m.edge for m in designs_seen(run.job, view))
        first = most is not None and view.camera == most.camera
        found += [{**_picture(run, view, edge), "first": first} for edge in edges]
    return found


@dataclass(frozen=True, slots=True)
class _Seen:
    """What is known of one colour: its settled levels, and where it was at its worst outside."""

    levels: dict[Axis, Level | None]
    worst: dict[Axis, Stretch]


@dataclass(frozen=True, slots=True)
class _Scales:
    """Web mm to drawing units: true for places and marks, enlarged for offsets and tolerances."""

    true: Camera
    large: Camera


def _picture(run: Run, view: View, edge: str) -> dict[str, Any]:
    designs = [m for m in designs_seen(run.job, view) if m.edge == edge]
    seen = {m.ink: _seen(run, view, m.ink) for m in designs}
    enlarged = magnification(_reaches(run, seen), designs)
    units = SIDE / max(_span_mm(designs), SMALLEST_MM)
    scales = _Scales(upright(run, view, units), upright(run, view, units * enlarged))
    marks = [_mark(run, m, seen[m.ink], scales) for m in designs]
    frame = _label(marks)
    return {
        "words": view.words,
        "edge": edge,
        "magnification": enlarged,
        "web_travel": scales.true.web_travel,
        "drive_side": scales.true.drive_side,
        "substrate": swatch(run.job.substrate),
        "marks": marks,
        "any_worst": any(mark["worst"] for mark in marks),
        "box": [frame.left, frame.top, frame.width, frame.height],
        "unmeasurable": list(run.job.unmeasurable_inks),
    }


def _seen(run: Run, view: View, ink: str) -> _Seen:
    station = run.job.station_of(ink).number
    return _Seen(settled_pair(run, view, station), worst_outside(run, view, station))


def _reaches(run: Run, seen: dict[str, _Seen]) -> Iterator[float]:
    """Everything that is drawn from a design place, mm."""
    for ink, known in seen.items():
        for axis, level in known.levels.items():
            yield run.job.tolerance_for(ink).of(axis)
            yield abs(level.mean_mm) if level else 0.0
        yield from (abs(stretch.worst_mm) for stretch in known.worst.values())


def _span_mm(designs: list[MarkDesign]) -> float:
    """The mark set's longer side, from design place to design place, mm."""
    along = [m.circumferential_mm for m in designs]
    across = [m.lateral_mm for m in designs]
    return max(max(along) - min(along), max(across) - min(across))


def _mark(run: Run, design: MarkDesign, seen: _Seen, scales: _Scales) -> dict[str, Any]:
    job, number = run.job, run.job.station_of(design.ink).number
    reference = design.ink == job.reference
    known = not reference and all(seen.levels.values())
    tolerance = job.tolerance_for(design.ink)
    settled = [level.mean_mm if known and level else 0.0 for level in seen.levels.values()]
    return {
        "station": number,
        "ink": design.ink,
        "swatch": swatch(job.ink(design.ink).colour),
        "state": "reference" if reference else _state(seen),
        "path": _path(scales.true, design),
        "at": xy(scales.true, (design.circumferential_mm, design.lateral_mm)),
        "shift": xy(scales.large, settled),
        "worst": worst_places(scales.large, seen.worst, settled) if known else [],
        "tolerance": half_size(scales.large, [tolerance.of(axis) for axis in AXES]),
        "half": extent_mm(design.shape) / 2 / scales.true.mm_per_px,
        "figures": _figures(reference, seen),
    }


def _state(seen: _Seen) -> str:
    """measured, partly (one axis only: no place can be drawn) or missing."""
    known = [level is not None for level in seen.levels.values()]
    return "measured" if all(known) else "partly" if any(known) else "missing"


def _figures(reference: bool, seen: _Seen) -> list[dict[str, Any]]:
    """The lines under the mark's name: a length with its doubt and its word, or words alone."""
    if reference:
        return [_words_alone("reference")]
    lines = [
        _figure(axis, level.mean_mm, level.sd_mm) if level else _words_alone(f"{axis}: unknown")
        for axis, level in seen.levels.items()
    ]
    worst = [
        {**_figure(axis, stretch.worst_mm, stretch.worst_sd_mm), "worst": True}
        for axis, stretch in seen.worst.items()
    ]
    return lines + worst


def _words_alone(words: str) -> dict[str, Any]:
    return {"mm": None, "doubt": None, "words": words, "worst": False}


def _figure(axis: Axis, offset_mm: float, sd_mm: float | None) -> dict[str, Any]:
    word = side(axis, offset_mm)
    size_mm = None if word == ON_PLACE else abs(offset_mm)
    doubt = None if sd_mm is None else {"mm": sd_mm, "decimals": doubt_decimals(sd_mm)}
    return {"mm": size_mm, "doubt": doubt, "words": word, "worst": False}


def _figure_text(line: dict[str, Any]) -> str:
    """A line as the picture writes it, in mm."""
    size = "" if line["mm"] is None else f"{plain(line['mm'], 3)} "
    doubt = f"±{plain(*line['doubt'].values())} " if line["doubt"] else ""
    return f"{'■ ' if line['worst'] else ''}{size}{doubt}{line['words']}"


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
    sizes = [_label_size(mark) for mark in marks]
    labels = place_labels(drawn, sizes)
    for mark, label, thing in zip(marks, labels, drawn, strict=True):
        mark["label"] = [label.left, label.top, label.width, label.height]
        mark["leader"] = leader(label, thing)
    return Box.around([*drawn, *labels]).grown(16.0)


def leader(label: Box, thing: Box) -> list[float] | None:
    """A line from a label that could not stand beside its mark to that mark: x, y, x, y."""
    if label.grown(2 * NEAR).overlap(thing):
        return None
    return [*label.nearest(*thing.centre), *thing.nearest(*label.centre)]


# Text of the picture in drawing units.
NEAR = 6.0  # the gap of a label that stands beside its mark
FONT = 17.0
LINE = 21.0


def _label_size(mark: dict[str, Any]) -> tuple[float, float]:
    """(width, height) of a mark's label, from the letters of its longest line."""
    letters = [len(f"{mark['station']} {mark['ink']}")]
    letters += [len(_figure_text(line)) for line in mark["figures"]]
    return max(letters) * FONT * 0.56 + 6.0, (1 + len(mark["figures"])) * LINE + 4.0


def _drawn(mark: dict[str, Any]) -> Box:
    """The box around design outline, moved mark and tolerance box of one mark."""
    (x, y), (dx, dy), (tx, ty) = mark["at"], mark["shift"], mark["tolerance"]
    half = mark["half"]
    return Box.around(
        [
            Box.about(x, y, max(tx, half), max(ty, half)),
            Box.about(x + dx, y + dy, half, half),
            *(Box.about(x + wx, y + wy, 6.0, 6.0) for wx, wy in mark["worst"]),
        ]
    )
