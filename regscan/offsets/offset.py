"""Offset: one colour against the reference in one frame, in mm on the web, with doubt."""

import math
from dataclasses import dataclass

from regscan.job.job import Axis
from regscan.marks.mark import Status
from regscan.offsets.calibration import NONE, CalibrationError


@dataclass(frozen=True, slots=True)
class Offset:
    """One row of the run table before it is written.

    circumferential_mm   + is late (toward the unwind); NaN when missing.
    lateral_mm           + is toward the drive side; NaN when missing.
    *_sd_mm              one standard deviation of the offset: own mark, reference and the
                         camera's calibration together.
    *_shared_sd_mm       the part of that sd that comes from the reference mark, and so is
                         the same error for every colour of this frame.
    calibration          the part that comes from the camera's calibration.
    """

    station: int
    ink: str
    edge: str
    status: Status
    circumferential_mm: float = math.nan
    lateral_mm: float = math.nan
    circumferential_sd_mm: float = math.nan
    lateral_sd_mm: float = math.nan
    circumferential_shared_sd_mm: float = math.nan
    lateral_shared_sd_mm: float = math.nan
    note: str = ""
    calibration: CalibrationError = NONE

    def value_mm(self, axis: Axis) -> float:
        return self.circumferential_mm if axis == "circumferential" else self.lateral_mm

    def sd_mm(self, axis: Axis) -> float:
        return self.circumferential_sd_mm if axis == "circumferential" else self.lateral_sd_mm

    def shared_sd_mm(self, axis: Axis) -> float:
        if axis == "circumferential":
            return self.circumferential_shared_sd_mm
        return self.lateral_shared_sd_mm


def difference(one: Offset, other: Offset, axis: Axis) -> tuple[float, float]:
    """(one minus other in mm, its sd) for two colours of the same frame and mark set.

    Both offsets hold the same error of the reference mark, so it drops out of
    their difference, which is therefore better known than either offset
    (the correlated-inputs rule, JCGM 100:2008, 5.2). An error of the camera's scale
    or rotation is in both as well, each as far as its mark lies from the reference.
    """
    shared = one.shared_sd_mm(axis) * other.shared_sd_mm(axis)
    errors = zip(one.calibration.of(axis), other.calibration.of(axis), strict=False)
    shared += sum(mine * theirs for mine, theirs in errors)
    variance = one.sd_mm(axis) ** 2 + other.sd_mm(axis) ** 2 - 2.0 * shared
    return one.value_mm(axis) - other.value_mm(axis), math.sqrt(max(variance, 0.0))
