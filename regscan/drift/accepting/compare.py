"""This run against an earlier one: which stations have changed, beyond what chance makes."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from regscan.drift.accepting.match import Match, match_holds
from regscan.drift.accepting.numbers import Pair, pairs_of
from regscan.drift.accepting.sentences import sentences_of
from regscan.drift.accepting.terms import term_pairs
from regscan.drift.comparison import Compared, Comparison, MetresCompared
from regscan.drift.drift import Drift, Track
from regscan.job.job import Job

FAMILY = 0.05
METHOD = (
    "Student's t for each difference, with the doubt of both runs in it; Holm's step-down"
    f" correction over all comparisons: two runs of an unchanged press show any change in at"
    f" most {FAMILY:.0%} of cases"
)


@dataclass(frozen=True)
class Ran:
    """A run as it is compared.

    source    where it was read from; made_at: when it was measured.
    cameras   whatever tells the cameras' calibration: equal for runs that share it.
    """

    drift: Drift
    job: Job
    source: str = ""
    made_at: str = ""
    cameras: object = ()


def compare_runs(now: Ran, before: Ran) -> Comparison:
    """Every number both runs have, and which have changed; refuse.why_not says if they may be."""
    matches = match_holds(now.drift, before.drift)
    earlier = {_key(track): track for track in before.drift.tracks}
    tracks = [
        (track, earlier[_key(track)])
        for track in now.drift.tracks
        if _key(track) in earlier and track.ink != now.job.reference
    ]
    shared = now.cameras == before.cameras
    found = [
        _compared(track, pair)
        for track, was in tracks
        for pair in pairs_of(track, was, matches, 0.0 if shared else _zero_sd(track, was))
    ]
    found += _terms(now.drift, before.drift, now.job)
    compared = _corrected(found)
    metres = tuple(_metres(track, was) for track, was in tracks)
    return Comparison(
        before=before.source,
        before_made_at=before.made_at,
        method=METHOD,
        compared=compared,
        metres=metres,
        stations=tuple(sorted({one.station for one in compared if one.changed})),
        sentences=sentences_of(compared, metres),
        notes=tuple(_notes(now, before, matches)),
    )


def _key(track: Track) -> tuple[int, str, str, str, str]:
    return track.station, track.ink, track.camera, track.edge, track.axis


def _zero_sd(track: Track, was: Track) -> float:
    """Doubt of the difference of two zeros."""
    sds = [max((v.zero_sd_mm for v in one.levels), default=0.0) for one in (track, was)]
    return math.hypot(*sds)


def _compared(track: Track, pair: Pair) -> Compared:
    about = track.station, track.ink, track.axis, track.camera, track.edge
    return _record(about, pair)


def _record(about: tuple[int, str, str, str, str], pair: Pair) -> Compared:
    return Compared(
        *about, pair.what, pair.detail, pair.unit, pair.now, pair.before, pair.sd, _chance(pair)
    )


def _terms(now: Drift, before: Drift, job: Job) -> Iterator[Compared]:
    if now.behaviours is None or before.behaviours is None:
        return
    for behaviour, pair in term_pairs(now.behaviours, before.behaviours):
        if behaviour.ink != job.reference:
            about = behaviour.station, behaviour.ink, behaviour.channel, now.behaviours.camera, ""
            yield _record(about, pair)


def _chance(pair: Pair) -> float:
    """How often chance alone makes so large a difference, to either side."""
    from scipy.special import ndtr, stdtr

    size = -abs(pair.difference) / pair.sd if pair.sd > 0 else 0.0
    tail = ndtr(size) if math.isinf(pair.freedom) else stdtr(max(pair.freedom - 1.0, 1.0), size)
    return float(2.0 * tail)


def _corrected(found: Sequence[Compared]) -> tuple[Compared, ...]:
    """Holm 1979: the smallest against FAMILY / n, the next against FAMILY / (n - 1) ..."""
    order = sorted(range(len(found)), key=lambda k: found[k].p)
    changed: set[int] = set()
    for rank, k in enumerate(order):
        if found[k].p > FAMILY / (len(found) - rank):
            break
        changed.add(k)
    return tuple(replace(one, changed=k in changed) for k, one in enumerate(found))


def _metres(track: Track, was: Track) -> MetresCompared:
    about = track.station, track.ink, track.axis, track.camera, track.edge
    return MetresCompared(*about, track.metres_outside, was.metres_outside)


def _notes(now: Ran, before: Ran, matches: Sequence[Match]) -> Iterator[str]:
    if now.job.press.name != before.job.press.name:
        yield f"two presses: {now.job.press.name} now, {before.job.press.name} before"
    if not matches:
        yield "no hold of one run has the speed of one of the other, so no level is compared"
    elif len(matches) == 1:
        yield "the runs share one hold only: what the speed does cannot be compared"
    if now.drift.behaviours is None or before.drift.behaviours is None:
        yield "not both runs have a run model, so its terms are not compared"
    if now.cameras != before.cameras:
        yield "the cameras were set or calibrated anew: the doubt of both zeros is in the settings"
    tolerances = [(job.tolerance, job.ink_tolerances) for job in (now.job, before.job)]
    if tolerances[0] != tolerances[1]:
        yield "the tolerances differ, so metres outside do not compare"
    lost = {t.ink for t in before.drift.tracks} ^ {t.ink for t in now.drift.tracks}
    if lost:
        yield f"in one run only, and not compared: {', '.join(sorted(lost))}"
