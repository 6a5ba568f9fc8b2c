"""Where an offset of 0 lies: as the design has it, or as the approved sheet has it."""

import math

from regscan.job.job import Job
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
