"""What is to be drawn for each mark of one frame: measured place, design place, offset."""

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.job import AXES, Job
from regscan.job.layout import MarkDesign
from regscan.job.shapes import extent_mm
from regscan.offsets.zero import zero_of
from regscan.report.outlines import outlines
from regscan.report.words import side

_NOTE_LETTERS = 30  # a longer note goes on in the next line

Point = tuple[float, float]  # (x, y) in px: column, row


@dataclass(frozen=True, slots=True)
class Sight:
    """One design mark in one frame, in px; (x, y) is (column, row).

    measured, design   None where not known.
    tip      end of the enlarged offset drawn from the design place; None where not known.
    box      half width and half height of the enlarged tolerance box.
    half     half the mark's own size.
    outline  the mark's shape as designed, about (0, 0).
    worst    larger of both |offsets| over its tolerance; None where not known.
    """

    ink: str
    status: str
    measured: Point | None
    design: Point | None
    tip: Point | None
    box: tuple[float, float]
    half: float
    outline: list[list[Point]]
    lines: list[str]
    worst: float | None

    @property
    def outside(self) -> bool:
        """Whether it lies outside tolerance in this frame."""
        return self.worst is not None and self.worst > 1.0

    def enlarged(self, zoom: int) -> "Sight":
        """The same in a picture `zoom` times as large; pixel centres lie at whole numbers."""
        return replace(
            self,
            measured=_enlarged(self.measured, zoom),
            design=_enlarged(self.design, zoom),
            tip=_enlarged(self.tip, zoom),
            box=(zoom * self.box[0], zoom * self.box[1]),
            half=zoom * self.half,
            outline=[[(zoom * x, zoom * y) for x, y in part] for part in self.outline],
        )


def _enlarged(place: Point | None, zoom: int) -> Point | None:
    if place is None:
        return None
    return (place[0] + 0.5) * zoom - 0.5, (place[1] + 0.5) * zoom - 0.5


def reaches(offsets: np.ndarray, job: Job) -> Iterator[float]:
    """Everything that is drawn from a design place in this frame, mm."""
    for row in offsets:
        for axis in AXES:
            yield job.tolerance_for(str(row["ink"])).of(axis)
            if np.isfinite(row[f"{axis}_mm"]):
                yield abs(float(row[f"{axis}_mm"]))


def sights(
    marks: np.ndarray, offsets: np.ndarray, job: Job, camera: Camera, enlarged: int
) -> Iterator[Sight]:
    """One sight per row of marks; a mark with neither place is left to words."""
    for row in marks:
        edge, ink = str(row["edge"]), str(row["ink"])
        same = marks[(marks["ink"] == job.reference) & (marks["edge"] == edge)]
        design = _design(job, ink, edge)
        place = _design_place(same, job, design, camera)
        mine = offsets[(offsets["ink"] == ink) & (offsets["edge"] == edge)]
        shift = [float(mine[f"{axis}_mm"][0]) if len(mine) else np.nan for axis in AXES]
        limits = [job.tolerance_for(ink).of(axis) for axis in AXES]
        reference = ink == job.reference
        row_px, col_px = camera.step_to_pixels(*(enlarged * limit for limit in limits))
        yield Sight(
            ink=ink,
            status=str(row["status"]),
            measured=_finite(float(row["col_px"]), float(row["row_px"])),
            design=place,
            tip=None if reference else _tip(place, shift, camera, enlarged),
            box=(0.0, 0.0) if reference else (abs(col_px), abs(row_px)),
            half=extent_mm(design.shape) / 2 / camera.mm_per_px,
            outline=_outline(design, camera),
            lines=_lines(job, ink, str(row["status"]), shift, mine),
            worst=_worst(shift, limits),
        )


def _outline(design: MarkDesign, camera: Camera) -> list[list[Point]]:
    """The design's outlines in px about its place."""
    parts = [[camera.step_to_pixels(*mm) for mm in part] for part in outlines(design.shape)]
    return [[(col, row) for row, col in part] for part in parts]


def _worst(shift: list[float], limits: list[float]) -> float | None:
    shares = [abs(s) / limit for s, limit in zip(shift, limits, strict=True) if np.isfinite(s)]
    return max(shares, default=None)


def _design(job: Job, ink: str, edge: str) -> MarkDesign:
    return next(m for m in job.marks if m.ink == ink and m.edge in ("", edge))


def _finite(x: float, y: float) -> Point | None:
    return (x, y) if np.isfinite(x) and np.isfinite(y) else None


def _design_place(
    reference: np.ndarray, job: Job, design: MarkDesign, camera: Camera
) -> Point | None:
    """Where the mark should lie, from the place of the reference mark and the job's zero."""
    if not len(reference):
        return None
    base = _design(job, job.reference, str(reference["edge"][0]))
    along, across = camera.to_web(float(reference["row_px"][0]), float(reference["col_px"][0]))
    approved = zero_of(job, design, base)
    row, col = camera.to_pixels(
        along + design.circumferential_mm - base.circumferential_mm + approved.circumferential_mm,
        across + design.lateral_mm - base.lateral_mm + approved.lateral_mm,
    )
    return _finite(col, row)


def _tip(place: Point | None, shift: list[float], camera: Camera, enlarged: int) -> Point | None:
    if place is None:
        return None
    row, col = camera.step_to_pixels(enlarged * shift[0], enlarged * shift[1])
    return _finite(place[0] + col, place[1] + row)


def _lines(job: Job, ink: str, status: str, shift: list[float], mine: np.ndarray) -> list[str]:
    head = f"{job.station_of(ink).number} {ink}"
    if status == "missing":
        return [f"{head}: MISSING"]
    lines = [f"{head}: DOUBTFUL" if status == "doubtful" else head]
    if ink == job.reference:
        return [*lines, "reference"]
    lines += [
        f"{abs(value):.3f} mm {side(axis, value)}"
        for axis, value in zip(AXES, shift, strict=True)
        if np.isfinite(value)
    ]
    note = str(mine["note"][0]) if len(mine) and status == "doubtful" else ""
    return [*lines, *textwrap.wrap(note, _NOTE_LETTERS)]
