"""Where the approved sheet has every mark: mean offsets over its frames, with their doubt."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from regscan.camera.camera import Camera
from regscan.instrument.pure_colour import PrintedShape
from regscan.instrument.taught import TaughtMark
from regscan.job.job import AXES, Axis, Job
from regscan.job.layout import Approved, MarkDesign
from regscan.marks.mark import Mark
from regscan.offsets.measure import measure_offsets
from regscan.offsets.offset import Offset
from regscan.recording.frame import FrameInfo


@dataclass(frozen=True, slots=True)
class FrameMarks:
    """The marks of one frame, and how their prints differ from the design."""

    info: FrameInfo
    marks: tuple[Mark, ...]
    shapes: Mapping[tuple[str, str], PrintedShape]


def approved_marks(
    frames: Sequence[FrameMarks], job: Job, cameras: Mapping[str, Camera]
) -> tuple[TaughtMark, ...]:
    """Every mark of the job's layout that can be seen, in the layout's order."""
    by_design = replace(job, zero="design")
    seen: dict[tuple[str, str], list[_Seen]] = {}
    for frame in frames:
        camera = cameras[frame.info.camera]
        offsets = measure_offsets(list(frame.marks), by_design, camera)
        for mark, offset in zip(frame.marks, offsets, strict=True):
            key = mark.ink, mark.edge
            seen.setdefault(key, []).append(_Seen(mark, offset, frame.shapes.get(key)))
    return tuple(
        _taught_mark(design, job, seen.get((design.ink, design.edge), []))
        for design in job.marks
        if job.ink(design.ink).measurable
    )


@dataclass(frozen=True, slots=True)
class _Seen:
    """One mark in one frame."""

    mark: Mark
    offset: Offset
    shape: PrintedShape | None


def _taught_mark(design: MarkDesign, job: Job, seen: Sequence[_Seen]) -> TaughtMark:
    good = [one.offset for one in seen if one.offset.status == "ok"]
    shapes = [one.shape for one in seen if one.shape]
    taught = TaughtMark(
        ink=design.ink,
        edge=design.edge,
        approved=None,
        spread_mm=None,
        frames=len(good),
        area_ratio=_median([s.mark.area_ratio for s in seen if s.mark.status != "missing"]),
        shown=len(seen),
        lacking=_median([shape.lacking for shape in shapes]),
        beyond=_median([shape.beyond for shape in shapes]),
    )
    if design.ink == job.reference or not good:
        return taught
    means, spreads, sds = zip(*(_mean(good, axis) for axis in AXES), strict=True)
    return replace(
        taught,
        approved=Approved(*(round(v, 5) for v in (*means, *sds))),
        spread_mm=(spreads[0], spreads[1]) if len(good) > 1 else None,
    )


def _median(values: Sequence[float]) -> float | None:
    return float(np.median(values)) if values else None


def _mean(good: Sequence[Offset], axis: Axis) -> tuple[float, float, float]:
    """(mean, sd of single frames, sd of the mean) mm.

    The calibration's doubt is left out: it is in every later offset already, and the
    same there as here. Frames may agree by chance: the mean is no surer than their own
    doubt makes it.
    """
    values = np.array([offset.value_mm(axis) for offset in good])
    own = np.array([_own_sd(offset, axis) for offset in good])
    count = len(values)
    spread = float(values.std(ddof=1)) if count > 1 else 0.0
    claimed = math.sqrt(float((own**2).mean()))
    return float(values.mean()), spread, max(spread, claimed) / math.sqrt(count)


def _own_sd(offset: Offset, axis: Axis) -> float:
    scale = offset.calibration
    common = sum(error**2 for error in scale.of(axis)) + scale.own_mm**2
    return math.sqrt(max(offset.sd_mm(axis) ** 2 - common, 0.0))
