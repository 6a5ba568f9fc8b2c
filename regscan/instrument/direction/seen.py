"""Seen: how every colour moved from one set of frames to another."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.job import AXES, Axis, Job
from regscan.marks.finder import MarkFinder
from regscan.offsets.measure import measure_offsets
from regscan.offsets.offset import Offset
from regscan.recording.frame import Frame


@dataclass(frozen=True, slots=True)
class Shift:
    """Change of one colour's offset against the reference, after less before, mm; one sd each."""

    circumferential_mm: float
    lateral_mm: float
    circumferential_sd_mm: float
    lateral_sd_mm: float

    def of(self, axis: Axis) -> float:
        """The change on one axis."""
        return self.circumferential_mm if axis == "circumferential" else self.lateral_mm

    def sd(self, axis: Axis) -> float:
        """Its doubt."""
        return self.circumferential_sd_mm if axis == "circumferential" else self.lateral_sd_mm


Means = Mapping[str, tuple[list[float], list[float]]]  # ink: mean and sd, per axis


def means_of(frames: Sequence[Frame], job: Job, camera: Camera) -> Means:
    """Mean offset of every colour found well over some frames, with its doubt."""
    finders: dict[tuple[str, str], MarkFinder] = {}
    by_ink: dict[str, list[Offset]] = {}
    for frame in frames:
        key = frame.info.camera, frame.info.edge
        if key not in finders:
            finders[key] = MarkFinder(job, camera, camera_name=key[0], edge=key[1])
        for offset in measure_offsets(finders[key].measure(frame), job, camera):
            if offset.status == "ok":
                by_ink.setdefault(offset.ink, []).append(offset)
    return {ink: _mean(offsets) for ink, offsets in by_ink.items()}


def _mean(offsets: Sequence[Offset]) -> tuple[list[float], list[float]]:
    means, sds = [], []
    for axis in AXES:
        values = np.array([o.value_mm(axis) for o in offsets])
        claimed = math.sqrt(float(np.mean([own_sd_mm(o, axis) ** 2 for o in offsets])))
        spread = float(values.std(ddof=1)) if len(values) > 1 else 0.0
        means.append(float(values.mean()))
        sds.append(max(claimed, spread) / math.sqrt(len(values)))
    return means, sds


def own_sd_mm(offset: Offset, axis: Axis) -> float:
    """The doubt that a difference of two frames keeps: scale and rotation are alike in both."""
    common = sum(error**2 for error in offset.calibration.of(axis))
    return math.sqrt(max(offset.sd_mm(axis) ** 2 - common, 0.0))


def shifts_of(before: Means, after: Means) -> dict[str, Shift]:
    """How far each colour seen in both moved."""
    shifts = {}
    for ink in before:
        if ink in after:
            (was, was_sd), (now, now_sd) = before[ink], after[ink]
            by = [new - old for new, old in zip(now, was, strict=True)]
            sd = [math.hypot(new, old) for new, old in zip(now_sd, was_sd, strict=True)]
            shifts[ink] = Shift(by[0], by[1], sd[0], sd[1])
    return shifts
