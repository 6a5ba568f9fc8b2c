"""Every way a finding can be read: as it was found, as its rivals, and as seen from the other end.

Offsets only tell stations against each other, so some patterns are one and the same: the last
station alone is "everything from the last station on"; the first alone, moving back, is
"everything from the second on". Which of them a cause means, the cause says.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from regscan.drift.behaviour import Finding, TermKind

FARTHEST = 14.0
"""Rivals further behind than this in squared misfit are no readings any more."""
STAIRS = ("stair", "span", "drum")


@dataclass(frozen=True, slots=True)
class Reading:
    """One way to read a finding; cost: how much less likely, as a logarithm."""

    kind: TermKind
    pattern: str
    station: int | None
    finding: Finding
    cost: float


def readings_of(finding: Finding, stations: tuple[int, ...]) -> Iterator[Reading]:
    """All readings; stations: numbers of all observed ones, in print order."""
    own = Reading(finding.kind, finding.pattern, finding.station, finding, 0.0)
    yield from _both_ends(own, stations)
    for rival in finding.rivals:
        cost = max(rival.behind, 0.0) / 2.0
        same = rival.kind == finding.kind and rival.pattern == finding.pattern
        if cost <= FARTHEST / 2.0 and not (same and rival.station == finding.station):
            other = Reading(rival.kind, rival.pattern, rival.station, finding, cost)
            yield from _both_ends(other, stations)


def _both_ends(reading: Reading, stations: tuple[int, ...]) -> Iterator[Reading]:
    yield reading
    if len(stations) < 3:
        return
    first, second, last = stations[0], stations[1], stations[-1]
    if reading.pattern == "one" and reading.station == last:
        yield replace(reading, pattern="stair")
    if reading.pattern == "one" and reading.station == first:
        yield replace(reading, pattern="stair", station=second, finding=_back(reading.finding))
    if reading.pattern in STAIRS and reading.station == last:
        yield replace(reading, pattern="one")
    if reading.pattern in STAIRS and reading.station == second:
        yield replace(reading, pattern="one", station=first, finding=_back(reading.finding))


def _back(finding: Finding) -> Finding:
    """The same movement told of the others: the other way round."""
    size = finding.term.size
    back = replace(size, value=-size.value, low=-size.high, high=-size.low)
    return replace(finding, term=replace(finding.term, size=back))
