"""Where an offset of 0 lies: as the design has it, or as the approved sheet has it."""

import math

from regscan.job.job import Axis, Job
from regscan.job.layout import Approved, MarkDesign

_DESIGN = Approved(0.0, 0.0)


def zero_of(job: Job, design: MarkDesign, reference: MarkDesign) -> Approved:
    """How far a mark's zero lies off its design place against the reference, with its doubt.

    Nothing where the job counts from the design. A mark without an approved place counts
    from its design place (the job reader refuses such a job); a reference that has one, since
    another colour was the reference when the sheet was taught, is taken off.
    """
    if job.zero == "design":
        return _DESIGN
    own, base = design.approved or _DESIGN, reference.approved or _DESIGN
    return Approved(
        own.circumferential_mm - base.circumferential_mm,
        own.lateral_mm - base.lateral_mm,
        math.hypot(own.circumferential_sd_mm, base.circumferential_sd_mm),
        math.hypot(own.lateral_sd_mm, base.lateral_sd_mm),
    )


def zero_sd_mm(job: Job, ink: str, edge: str, axis: Axis) -> float:
    """Doubt of the zero that offsets of one ink and web edge count from, mm; 0 to the design.

    It is one error, the same in every frame: averaging over frames does not lessen it.
    """
    marks = {(mark.ink, mark.edge): mark for mark in job.marks}
    design = marks.get((ink, edge)) or marks.get((ink, ""))
    reference = marks.get((job.reference, edge)) or marks.get((job.reference, ""))
    if design is None or reference is None or ink == job.reference:
        return 0.0
    zero = zero_of(job, design, reference)
    return zero.circumferential_sd_mm if axis == "circumferential" else zero.lateral_sd_mm
