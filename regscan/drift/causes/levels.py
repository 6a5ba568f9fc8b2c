"""Causes that only show in a constant: the two web edges apart from the first metre on."""

from collections.abc import Sequence

import numpy as np

from regscan.drift.behaviour import Behaviour, Behaviours
from regscan.drift.cause import Cause, RunnerUp
from regscan.drift.causes.table import entry
from regscan.job.job import Job

LEAST_MM = 0.03
"""Edges that differ by less than this are within what mounting leaves (common practice)."""
SIGMAS = 5.0


def level_causes(behaviours: Behaviours, causes: Sequence[Cause], job: Job) -> list[Cause]:
    """Stations whose drive-side mark lies late or early against their operator-side mark."""
    skews = [b for b in behaviours.stations if b.channel == "skew"]
    told = {c.station for c in causes if c.name == "plate-mounting"}
    reference = job.station_of(job.reference)
    common = _reference_skew(skews)
    if common is not None and len(skews) > 1:
        return [] if reference.number in told else [_cocked(reference.number, common, job)]
    return [
        _cocked(b.station, b.level.value, job)
        for b in skews
        if b.station not in told and _stands_out(b)
    ]


def _stands_out(behaviour: Behaviour) -> bool:
    level = behaviour.level
    return abs(level.value) > max(LEAST_MM, SIGMAS * level.sd)


def _reference_skew(skews: Sequence[Behaviour]) -> float | None:
    """When all stations are skewed alike against it, the reference is; else None."""
    values = np.array([b.level.value for b in skews])
    if len(values) < 3 or not all(_stands_out(b) for b in skews):
        return None
    middle = float(np.median(values))
    alike = np.abs(values - middle) < 0.4 * abs(middle)
    return -middle if alike.mean() > 0.7 else None


def _cocked(station: int, skew_mm: float, job: Job) -> Cause:
    one, other = entry("cocked-cylinder"), entry("plate-mounting")
    ink = next(s.ink for s in job.press.stations if s.number == station)
    side = "late" if skew_mm > 0 else "early"
    return Cause(
        name=one.name,
        title=one.title,
        station=station,
        ink=ink,
        stations=(station,),
        channels=("skew",),
        pattern="one",
        sentence=(
            f"Station {station} ({ink}) prints its drive-side mark {abs(skew_mm):.3f} mm {side} "
            "against its operator-side mark, at every speed and with no sideways run round the "
            "repeat."
        ),
        reason=one.reason,
        first_check=one.first_check,
        deciding=one.deciding,
        moves_mm=abs(skew_mm),
        share=0.8,
        runner_up=RunnerUp(other.name, other.title, station),
    )
