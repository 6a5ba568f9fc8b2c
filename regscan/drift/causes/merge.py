"""Causes that are one and the same thing, told once: several findings of one splice, one roll."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from regscan.drift.behaviour import Behaviours, Finding
from regscan.drift.cause import Cause
from regscan.drift.causes.conditions import setting
from regscan.drift.causes.sign import STAIR

NEAR_M = 40.0
"""Events further apart than this are two (a press is shorter, with its settling)."""
SAME_M = 5.0
"""Steps nearer than this are one moment: their places are known to a metre or two."""


def merged(causes: Sequence[Cause], behaviours: Behaviours, stations: Sequence[int]) -> list[Cause]:
    """The same causes in their order, each only once.

    stations   numbers of all observed ones, in print order.
    """
    found: list[Cause] = []
    for cause in causes:
        for k, known in enumerate(found):
            both = _of_one_station(known, cause, behaviours, stations)
            if both is None and _same(known, cause, behaviours):
                both = _both(known, cause)
            if both is not None:
                found[k] = both
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


def _of_one_station(
    one: Cause, other: Cause, behaviours: Behaviours, stations: Sequence[int]
) -> Cause | None:
    """Two steps told as one event of a station, which moves with all after it; None: not so.

    Where its own print moves by another amount than what it does to the web, the event is found
    as two: that station by itself, and all from it, or from the next one, on.
    """
    places = _place(one, behaviours), _place(other, behaviours)
    if places[0] is None or places[1] is None or abs(places[0] - places[1]) > SAME_M:
        return None
    if {behaviours.findings[n].kind for n in (*one.findings, *other.findings)} != {"step"}:
        return None
    for up, down in ((one, other), (other, one)):
        alone = up.pattern == "one" != down.pattern and up.station == down.station
        before = (up.station, down.station) in list(pairwise(stations))
        onward = down.pattern in STAIR or down.station == stations[-1]
        if onward and (alone or before):
            sentence = f"{up.sentence} {down.sentence}"
            return replace(_both(down, up), station=up.station, ink=up.ink, sentence=sentence)
    return None


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
