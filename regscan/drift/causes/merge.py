"""Causes that are one and the same thing, told once: several findings of one splice, one roll."""

from collections.abc import Sequence
from dataclasses import replace

from regscan.drift.behaviour import Behaviours, Finding
from regscan.drift.cause import Cause
from regscan.drift.causes.conditions import setting

NEAR_M = 40.0
"""Events further apart than this are two (a press is shorter, with its settling)."""


def merged(causes: Sequence[Cause], behaviours: Behaviours) -> list[Cause]:
    """The same causes in their order, each only once."""
    found: list[Cause] = []
    for cause in causes:
        for k, known in enumerate(found):
            if _same(known, cause, behaviours):
                found[k] = _both(known, cause)
                break
        else:
            found.append(cause)
    return found


def near(one: Finding, other: Finding) -> bool:
    """Whether two findings may be one event; what has no place may go with any."""
    places = [setting(finding, "at_m") for finding in (one, other)]
    return places[0] is None or places[1] is None or abs(places[0] - places[1]) < NEAR_M


def _same(one: Cause, other: Cause, behaviours: Behaviours) -> bool:
    if one.name != other.name:
        return False
    places = [_place(cause, behaviours) for cause in (one, other)]
    if places[0] is not None and places[1] is not None:
        near = abs(places[0] - places[1]) < NEAR_M
        return near and ("one" not in (one.pattern, other.pattern) or one.station == other.station)
    return one.station == other.station


def _place(cause: Cause, behaviours: Behaviours) -> float | None:
    """Where along the web it happened; None for what is no event."""
    for number in cause.findings:
        at = setting(behaviours.findings[number], "at_m")
        if at is not None:
            return at
    return None


def _both(one: Cause, other: Cause) -> Cause:
    new = [c for c in other.channels if c not in one.channels]
    return replace(
        one,
        stations=tuple(sorted({*one.stations, *other.stations})),
        channels=(*one.channels, *new),
        sentence=f"{one.sentence} {other.sentence}" if new else one.sentence,
        moves_mm=max(one.moves_mm, other.moves_mm),
        findings=(*one.findings, *other.findings),
    )
