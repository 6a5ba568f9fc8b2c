"""What a camera's calibration leaves unknown, as doubt of one offset.

A scale that is wrong by a share stretches the way from the reference mark to a
colour's mark by that share; a wrong rotation turns it. Both errors are the same
for every colour and frame of the camera, so they are kept apart from each mark's
own doubt: the difference of two colours holds only what they do not share.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from regscan.camera.camera import Camera
from regscan.job.job import AXES, Axis, Job

# Bending that the lens does not describe is alike within half the way to the corner.
_ALIKE = 0.5


@dataclass(frozen=True, slots=True)
class CalibrationError:
    """What one standard deviation of each calibration error does to an offset.

    circumferential_mm, lateral_mm   signed, one number per error that all offsets of the
                                     camera share, always in the same order.
    own_mm                           the sd of what two places do not share, on either axis.
    """

    circumferential_mm: tuple[float, ...] = ()
    lateral_mm: tuple[float, ...] = ()
    own_mm: float = 0.0

    def of(self, axis: Axis) -> tuple[float, ...]:
        """The shared errors on one axis, mm."""
        return self.circumferential_mm if axis == "circumferential" else self.lateral_mm


NONE = CalibrationError()


def calibration_error(camera: Camera, along_mm: float, across_mm: float) -> CalibrationError:
    """For a mark this far (circumferential, lateral mm on the web) from its reference."""
    if camera.lens is None:
        return NONE
    doubt = camera.lens.doubt
    turn = math.radians(doubt.rotation_deg)
    alike_mm = _ALIKE * camera.lens.radius_px * camera.mm_per_px
    apart = min(math.hypot(along_mm, across_mm) / alike_mm, 1.0)
    return CalibrationError(
        (1e-6 * doubt.circumferential_scale_ppm * along_mm, turn * across_mm),
        (1e-6 * doubt.lateral_scale_ppm * across_mm, -turn * along_mm),
        camera.mm_per_px * math.hypot(math.sqrt(2.0) * doubt.residual_px * apart, doubt.colour_px),
    )


View = tuple[str, str, str, Axis]  # camera, edge, ink, axis


def calibration_sds(job: Job, cameras: Mapping[str, Camera]) -> dict[View, float]:
    """What each camera's calibration leaves unknown in each colour's offset, mm, one sd.

    Its error is the same in every frame: averaging over frames does not lessen it.
    """
    found: dict[View, float] = {}
    references = {mark.edge: mark for mark in job.marks if mark.ink == job.reference}
    for name, camera in cameras.items():
        for mark in job.marks if camera.lens else ():
            base = references.get(mark.edge)
            if base is None or mark.ink == job.reference:
                continue
            error = calibration_error(
                camera,
                mark.circumferential_mm - base.circumferential_mm,
                mark.lateral_mm - base.lateral_mm,
            )
            for axis in AXES:
                sd = math.hypot(*error.of(axis), error.own_mm)
                found[name, mark.edge, mark.ink, axis] = sd
    return found
