"""What cannot be told apart with this run, and the run that would decide."""

from collections.abc import Iterator, Sequence

import numpy as np

from regscan.drift.behaviour import Finding, Rival, TermKind
from regscan.drift.model.clocks import Line, Moments, RunClock
from regscan.job.job import Job
from regscan.units import SECONDS_PER_MINUTE

TWO_RATES = 1.5  # rates that differ by this factor are two
HELD = 0.15  # share of a run that must be held for a settled level
CONFOUNDED = 0.95
BEHIND = 6.0
"""A rival this little behind (squared misfit in units of the noise) fits as well."""
MOST = 6
SPECIAL: dict[TermKind, tuple[TermKind, ...]] = {
    "speed": ("speed above",),
    "step": ("drift",),
    "drift": ("step",),
}
"""Rivals that only say the same with one number more: an onset at the slowest speed, a creep over
a metre, jumps for a slope."""

IN_RAMPS: tuple[TermKind, ...] = ("two levels", "acceleration")
IN_TIME: tuple[TermKind, ...] = ("drift", "warm-up", "step")
BY_SPEED: tuple[TermKind, ...] = ("speed", "speed above", "dose")
DECIDES: tuple[tuple[tuple[TermKind, ...], tuple[TermKind, ...], str], ...] = (
    (IN_RAMPS, IN_RAMPS, "ramps at two rates: play keeps its size, inertia grows with the rate"),
    (BY_SPEED, IN_TIME, "the same speeds once more, in another order, with holds of minutes"),
    (IN_RAMPS, IN_TIME, "a second pair of ramps: what follows the ramps comes again"),
    (BY_SPEED, BY_SPEED, "holds at two more speeds in between"),
    (BY_SPEED, IN_RAMPS, "longer holds: what depends on speed stays through them"),
    (("warm-up",), ("drift", "step"), "a longer run: warming comes to an end"),
    (("speed at the camera",), BY_SPEED, "a frame of the standing web: what is false is gone"),
    (("passing strain",), ("step", "speed", "acceleration"), "frames closer to each other"),
    (
        ("period in metres",),
        ("period in seconds", "turn of the roll"),
        "the same at another speed, and with another roll",
    ),
)


def untold_of(
    findings: Sequence[Finding], clock: RunClock, moments: Moments, job: Job
) -> tuple[str, ...]:
    """Sentences, those about the run as a whole first."""
    told = [*_of_the_ramps(clock.line, clock.record_unit, moments)]
    if not moments.speeds_differ and any(f.kind == "period in metres" for f in findings):
        told.append(
            "One speed only: a wave in metres (something that turns) cannot be told from one in "
            "seconds (a guide, a control loop). The same at another speed would decide."
        )
    for finding in findings:
        told += list(_of_finding(finding, job))
    return tuple(dict.fromkeys(told))[:MOST]


def _of_the_ramps(line: Line | None, unit: str, moments: Moments) -> Iterator[str]:
    if line is None or not moments.speeds_differ:
        return
    rates = np.abs(line.slope[line.slope != 0.0])
    if unit == "s" and len(rates) and rates.max() < TWO_RATES * rates.min():
        rate = float(np.median(rates)) / SECONDS_PER_MINUTE
        yield (
            f"One ramp rate only ({rate:.2f} m/s2): play (two levels of a fixed size) cannot be "
            "told from inertia (in proportion to the rate). Ramps at two rates would decide."
        )
    if held_share(line) < HELD:
        yield (
            "No holds: what depends on speed and what drifts with time are hard to tell apart. "
            "The same ramps with 3 to 5 minutes at each speed would decide."
        )
    elif _one_way(moments):
        yield (
            "The speed changes one way only: what depends on speed cannot be told from what "
            "drifts with time. Going back to the first speed would decide."
        )


def held_share(line: Line) -> float:
    """Share of the record at held speeds."""
    length = line.x[1::2] - line.x[::2]
    return float(length[line.slope == 0.0].sum() / max(length.sum(), 1e-9))


def _one_way(moments: Moments) -> bool:
    """Whether speed and time go together so that neither tells anything without the other."""
    speed = moments.speed_m_min
    clock = moments.time_s if moments.time_s is not None else moments.order
    if speed is None:
        return False
    t, v = clock.mean(axis=1), speed.mean(axis=1)
    both = np.corrcoef(t, v)[0, 1]
    rises = np.diff(v)
    return bool(abs(both) > CONFOUNDED or (rises > -0.5).all() or (rises < 0.5).all())


def _of_finding(finding: Finding, job: Job) -> Iterator[str]:
    for rival in finding.rivals:
        same = rival.kind == finding.kind or rival.kind in SPECIAL.get(finding.kind, ())
        if same or rival.behind > BEHIND:
            continue
        run = _decides(finding.kind, rival.kind)
        if run:
            who = _who(finding, job)
            yield (
                f"{who} {finding.channel} movement of {finding.term.moves_mm:.3f} mm may be "
                f"{_named(finding)} or {_named(rival)}: both fit. To decide: {run}."
            )
            return


def _decides(one: TermKind, other: TermKind) -> str:
    for a, b, run in DECIDES:
        if (one in a and other in b) or (one in b and other in a):
            return run
    return ""


def _who(finding: Finding, job: Job) -> str:
    if finding.station is None:
        return "The whole press's"
    ink = next((s.ink for s in job.press.stations if s.number == finding.station), "")
    more = "" if finding.pattern == "one" else " and what follows it"
    return f"Station {finding.station}'s ({ink}{more})"


def _named(one: Finding | Rival) -> str:
    where = "" if one.station is None else f" at station {one.station}"
    return f"{one.kind} ({one.pattern}{where})"
