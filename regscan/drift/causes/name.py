"""From findings to causes: the largest finding first, with all that goes along with it.

Every entry of the table is scored against every reading of a finding: how usual the sign is,
how well its conditions hold, how far the reading lies behind the best one, and what came along
or did not. The scores are logarithms of belief; the first and the second are named.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from regscan.drift.behaviour import Behaviours, Channel, Finding
from regscan.drift.cause import Cause, RunnerUp
from regscan.drift.causes.back import paired
from regscan.drift.causes.conditions import CONDITIONS
from regscan.drift.causes.levels import level_causes
from regscan.drift.causes.merge import merged, near
from regscan.drift.causes.readings import Reading, readings_of
from regscan.drift.causes.sentences import sentence_of
from regscan.drift.causes.sign import STAIR, Company, Entry
from regscan.drift.causes.table import CAUSES
from regscan.job.job import Job

WORTH = 0.03
"""Share of the tolerance that something must move to be given a cause."""
DETAIL, OWN_DETAIL = 0.15, 0.35
"""A finding that moves less than this share of a larger one is a detail of its shape: in the
same channel over several stations, and at the very same station."""
UNLIKELY = -9.0
UNKNOWN = Entry(
    name="unknown",
    title="something the table of causes does not know",
    signs=(),
    reason="none of the known signatures fits this movement",
    first_check="Compare with what was done on the press at that time.",
    deciding="the same run again: what comes back belongs to the press",
)


@dataclass(frozen=True, slots=True)
class Claim:
    """A cause for a finding, with what it takes along and how likely it is."""

    entry: Entry
    reading: Reading
    score: float
    along: tuple[Finding, ...]


def name_causes(behaviours: Behaviours, job: Job) -> tuple[Cause, ...]:
    """Likely causes, that which moves the print most first; none for a calm run."""
    least = WORTH * min(job.tolerance.circumferential_mm, job.tolerance.lateral_mm)
    left = [f for f in behaviours.findings if f.term.moves_mm >= least]
    measured = {b.channel for b in behaviours.stations}
    stations = _observed(behaviours, job)
    places = {id(f): k for k, f in enumerate(behaviours.findings)}
    causes = []
    while left:
        finding = left.pop(0)
        claims = sorted(_claims(finding, left, measured, stations), key=lambda c: -c.score)
        best = claims[0]
        left = [f for f in left if f not in best.along and not _detail(f, finding)]
        evidence = [places[id(f)] for f in (finding, *best.along)]
        causes.append(replace(_cause(claims, job), findings=tuple(evidence)))
    causes += level_causes(behaviours, causes, job)
    causes = paired(sorted(causes, key=lambda c: -c.moves_mm), behaviours)
    return tuple(merged(causes, behaviours, stations))


def _observed(behaviours: Behaviours, job: Job) -> tuple[int, ...]:
    reference = job.station_of(job.reference).number
    return tuple(sorted({b.station for b in behaviours.stations} | {reference}))


def _claims(
    finding: Finding,
    others: Sequence[Finding],
    measured: set[Channel],
    stations: tuple[int, ...],
) -> list[Claim]:
    readings = list(readings_of(finding, stations))
    found = []
    for entry in CAUSES:
        scored = [(_score(entry, one), one) for one in readings]
        score, reading = max(scored, key=lambda pair: pair[0])
        if score > UNLIKELY:
            more, along = _company(entry, reading, others, measured)
            found.append(Claim(entry, _begun(reading, along, stations), score + more, along))
    own = Reading(finding.kind, finding.pattern, finding.station, finding, 0.0)
    return [*found, Claim(UNKNOWN, own, UNLIKELY, ())]


def _begun(reading: Reading, along: Sequence[Finding], stations: tuple[int, ...]) -> Reading:
    """A fan begins somewhere in a span, and is named by the station before it or behind it.

    What came along with it, from the station behind on, tells which of the two it is.
    """
    behind = dict(pairwise(stations)).get(reading.station or 0)
    told = any(f.pattern in STAIR and f.station == behind for f in along)
    return replace(reading, station=behind) if reading.pattern == "fan from" and told else reading


def _score(entry: Entry, reading: Reading) -> float:
    """How well a reading shows one of the entry's signs."""
    return max(
        (
            sign.weight + CONDITIONS[sign.when](reading.finding) - reading.cost
            for sign in entry.signs
            if reading.finding.channel in sign.channels
            and reading.kind in sign.kinds
            and reading.pattern in sign.patterns
        ),
        default=-math.inf,
    )


def _company(
    entry: Entry, reading: Reading, others: Sequence[Finding], measured: set[Channel]
) -> tuple[float, tuple[Finding, ...]]:
    """What came along: its weight, and the findings taken along."""
    total, along = 0.0, []
    for wanted in entry.company:
        met = [f for f in others if _meets(f, wanted, reading)]
        if met:
            total += wanted.found
            along += met
        elif measured & set(wanted.channels):
            total += wanted.absent
    return total, tuple(along)


def _meets(finding: Finding, wanted: Company, reading: Reading) -> bool:
    return (
        finding.channel in wanted.channels
        and finding.kind in wanted.kinds
        and (not wanted.patterns or finding.pattern in wanted.patterns)
        and (not wanted.same_station or finding.station == reading.station)
        and finding is not reading.finding
        and near(finding, reading.finding)
        and finding.term.moves_mm >= wanted.least * reading.finding.term.moves_mm
    )


def _detail(finding: Finding, larger: Finding) -> bool:
    """Whether a finding only mends the shape of a larger one."""
    if finding.channel != larger.channel:
        return False
    share = finding.term.moves_mm / max(larger.term.moves_mm, 1e-12)
    if finding.pattern == larger.pattern == "one":
        return finding.station == larger.station and share < OWN_DETAIL
    return share < DETAIL


def _cause(claims: list[Claim], job: Job) -> Cause:
    best = claims[0]
    weights = [math.exp(c.score - best.score) for c in claims]
    finding = best.reading.finding
    together = (finding, *best.along)
    return Cause(
        name=best.entry.name,
        title=best.entry.title,
        station=best.reading.station,
        ink=_ink(best.reading.station, job),
        stations=tuple(sorted({n for f in together for n in f.stations})),
        channels=tuple(dict.fromkeys(f.channel for f in together)),
        pattern=best.reading.pattern,
        sentence=" ".join(_sentences(best, job)),
        reason=best.entry.reason,
        first_check=best.entry.first_check,
        deciding=best.entry.deciding,
        moves_mm=max(f.term.moves_mm for f in together),
        share=1.0 / sum(weights),
        runner_up=_runner_up(claims),
    )


def _sentences(claim: Claim, job: Job) -> Iterator[str]:
    yield sentence_of(claim.reading, job)
    told = {(claim.reading.kind, claim.reading.finding.channel)}
    for finding in claim.along:
        if (finding.kind, finding.channel) in told:
            continue
        told.add((finding.kind, finding.channel))
        own = Reading(finding.kind, finding.pattern, finding.station, finding, 0.0)
        yield sentence_of(own, job)


def _runner_up(claims: list[Claim]) -> RunnerUp | None:
    others = [c for c in claims[1:] if c.entry is not UNKNOWN]
    if not others:
        return None
    return RunnerUp(others[0].entry.name, others[0].entry.title, others[0].reading.station)


def _ink(station: int | None, job: Job) -> str:
    return next((s.ink for s in job.press.stations if s.number == station), "")
