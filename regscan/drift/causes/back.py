"""Two jumps of one station that undo each other are one thing: moved, and moved back."""

from collections.abc import Sequence
from dataclasses import replace

from regscan.drift.behaviour import Behaviours, Finding
from regscan.drift.cause import Cause
from regscan.drift.causes.conditions import setting
from regscan.drift.causes.table import entry

ALIKE = 0.25


def paired(causes: Sequence[Cause], behaviours: Behaviours) -> list[Cause]:
    """The causes with every jump and its return told as one; others as they are."""
    left, found = list(causes), []
    while left:
        cause = left.pop(0)
        step = _only_step(cause, behaviours)
        back = next((c for c in left if step and _undoes(c, step, behaviours)), None)
        if step is None or back is None:
            found.append(cause)
            continue
        left.remove(back)
        found.append(_there_and_back(cause, back, behaviours))
    return found


def _only_step(cause: Cause, behaviours: Behaviours) -> Finding | None:
    """The finding of a cause that rests on one jump of one station."""
    if len(cause.findings) != 1:
        return None
    finding = behaviours.findings[cause.findings[0]]
    return finding if finding.kind == "step" and finding.pattern == "one" else None


def _undoes(cause: Cause, step: Finding, behaviours: Behaviours) -> bool:
    other = _only_step(cause, behaviours)
    if other is None or (other.channel, other.station) != (step.channel, step.station):
        return False
    both = abs(other.term.size.value + step.term.size.value)
    return both < ALIKE * abs(step.term.size.value)


def _there_and_back(one: Cause, other: Cause, behaviours: Behaviours) -> Cause:
    first, second = sorted(
        (one, other), key=lambda c: setting(behaviours.findings[c.findings[0]], "at_m") or 0.0
    )
    at = setting(behaviours.findings[second.findings[0]], "at_m")
    back = "and goes back" if at is None else f"and goes back at {at:.0f} m"
    known = entry("moved-and-back")
    return replace(
        first,
        name=known.name,
        title=known.title,
        sentence=first.sentence.replace("and stays there", back),
        reason=known.reason,
        first_check=known.first_check,
        deciding=known.deciding,
        moves_mm=max(one.moves_mm, other.moves_mm),
        findings=(*first.findings, *second.findings),
    )
