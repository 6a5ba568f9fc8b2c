"""Marks of one frame to offsets: each colour's place against the reference colour."""

import math

from regscan.camera.camera import Camera
from regscan.job.job import Job
from regscan.job.layout import MarkDesign
from regscan.marks.flags import MarkFlag, describe
from regscan.marks.mark import Mark
from regscan.offsets.calibration import calibration_error
from regscan.offsets.offset import Offset
from regscan.offsets.zero import zero_of


def measure_offsets(marks: list[Mark], job: Job, camera: Camera) -> list[Offset]:
    """One Offset per mark, each mark set against its own reference mark.

    offset = (place - reference place) as measured - the same as designed, turned
    into web axes: + circumferential is late, + lateral toward the drive side. Where the
    job counts from the approved sheet, that sheet's own offset is taken off, and its
    doubt is part of the offset's.
    Without a usable reference every colour of that set is missing, with the reason.
    """
    designs = {(design.ink, design.edge): design for design in job.marks}
    references = {mark.edge: mark for mark in marks if mark.ink == job.reference}
    return [_offset(mark, references.get(mark.edge), designs, job, camera) for mark in marks]


def _offset(
    mark: Mark,
    reference: Mark | None,
    designs: dict[tuple[str, str], MarkDesign],
    job: Job,
    camera: Camera,
) -> Offset:
    station = job.station_of(mark.ink).number
    note = describe(mark.flags)
    if mark.status == "missing":
        return Offset(station, mark.ink, mark.edge, "missing", note=note or "no such mark found")
    if reference is None or reference.status == "missing":
        note = f"the reference colour {job.reference} was not found in this frame"
        return Offset(station, mark.ink, mark.edge, "missing", note=note)
    if mark is reference:
        return Offset(station, mark.ink, mark.edge, mark.status, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, note)
    flags = mark.flags
    status = mark.status
    if reference.status == "doubtful":
        flags, status = flags | MarkFlag.REFERENCE, "doubtful"
    design, base = designs[mark.ink, mark.edge], designs[reference.ink, reference.edge]
    along, across = camera.web_between(
        (mark.row_px, mark.col_px), (reference.row_px, reference.col_px)
    )
    own = camera.covariance_to_web(mark.row_var, mark.col_var, mark.row_col_covar)
    shared = camera.covariance_to_web(reference.row_var, reference.col_var, reference.row_col_covar)
    scale = calibration_error(camera, along, across)
    common = [sum(e * e for e in errors) for errors in (scale.circumferential_mm, scale.lateral_mm)]
    approved = zero_of(job, design, base)
    zero = approved.circumferential_mm, approved.lateral_mm
    zero_sds = approved.circumferential_sd_mm, approved.lateral_sd_mm
    sds = [
        math.sqrt(own[k] + shared[k] + common[k] + scale.own_mm**2 + zero_sds[k] ** 2)
        for k in (0, 1)
    ]
    return Offset(
        station=station,
        ink=mark.ink,
        edge=mark.edge,
        status=status,
        circumferential_mm=along - (design.circumferential_mm - base.circumferential_mm) - zero[0],
        lateral_mm=across - (design.lateral_mm - base.lateral_mm) - zero[1],
        circumferential_sd_mm=sds[0],
        lateral_sd_mm=sds[1],
        circumferential_shared_sd_mm=math.sqrt(shared[0]),
        lateral_shared_sd_mm=math.sqrt(shared[1]),
        note=describe(flags),
        calibration=scale,
    )
