"""The numbers of one station's axis that two runs are compared by, each with its doubt."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from regscan.drift.accepting.match import Match, levels_of
from regscan.drift.comparison import What
from regscan.drift.drift import Excursion, Level, Track

FEWEST = 10  # frames of a hold, or its level is not compared
ROBUST = 1.2  # times the variance of a plain spread has the robust one


@dataclass(frozen=True, slots=True)
class Pair:
    """One number, now and before.

    difference, sd   in units in which chance makes it normal (noise: logarithms).
    freedom          how many independent frames its doubt rests on.
    """

    what: What
    detail: str
    unit: str
    now: float
    before: float
    difference: float
    sd: float
    freedom: float


@dataclass(frozen=True, slots=True)
class _Both:
    """One matched hold of one colour."""

    match: Match
    now: Level
    before: Level

    @property
    def freedom(self) -> float:
        return min(_independent(self.now), _independent(self.before))


def pairs_of(
    now: Track, before: Track, matches: Sequence[Match], zero_sd_mm: float
) -> Iterator[Pair]:
    """Everything comparable of one colour and axis, as one camera and edge saw it.

    zero_sd_mm   doubt of both zeros together, where the runs do not share them.
    """
    mine, theirs = levels_of(now), levels_of(before)
    both = [
        _Both(match, mine[match.now], theirs[match.before])
        for match in matches
        if match.now in mine and match.before in theirs
    ]
    both = [one for one in both if min(one.now.frames, one.before.frames) >= FEWEST]
    if both:
        yield _setting(both, zero_sd_mm)
        yield from (_change(one, other) for one, other in pairwise(both))
        yield from _noise(both)
    yield from _excursions(now, before, matches)


def _setting(both: list[_Both], zero_sd_mm: float) -> Pair:
    """Where it prints on the whole: the mean over all matched holds."""
    count = len(both)
    now = math.fsum(one.now.mean_mm for one in both) / count
    before = math.fsum(one.before.mean_mm for one in both) / count
    squares = math.fsum(_square(one.now) + _square(one.before) for one in both)
    sd = math.hypot(math.sqrt(squares) / count, zero_sd_mm)
    freedom = math.fsum(one.freedom for one in both)
    return Pair("setting", "mean of all holds", "mm", now, before, now - before, sd, freedom)


def _change(one: _Both, other: _Both) -> Pair:
    """What a change of speed does to it."""
    now = other.now.mean_mm - one.now.mean_mm
    before = other.before.mean_mm - one.before.mean_mm
    levels = (one.now, one.before, other.now, other.before)
    sd = math.sqrt(math.fsum(_square(level) for level in levels))
    freedom = min(one.freedom, other.freedom)
    detail = f"{_speed(one.match)} to {_speed(other.match)}"
    return Pair("change with speed", detail, "mm", now, before, now - before, sd, freedom)


def _speed(match: Match) -> str:
    return "?" if match.speed_m_min is None else f"{match.speed_m_min:.0f} m/min"


def _noise(both: list[_Both]) -> Iterator[Pair]:
    """Scatter of single frames about the level of their hold, all holds together."""
    now, freedom_now = _pooled([one.now for one in both])
    before, freedom_before = _pooled([one.before for one in both])
    if min(now, before) <= 0.0 or min(freedom_now, freedom_before) < 3.0:
        return
    sd = math.sqrt(ROBUST * (0.5 / freedom_now + 0.5 / freedom_before))
    freedom = min(freedom_now, freedom_before)
    ratio = math.log(now / before)
    yield Pair("noise", "single frames", "mm", now, before, ratio, sd, freedom)


def _pooled(levels: list[Level]) -> tuple[float, float]:
    """(spread, frames that a variance of frames so correlated is worth)."""
    known = [v for v in levels if v.spread_mm is not None and v.frames > 1]
    frames = sum(v.frames - 1 for v in known)
    if not frames:
        return 0.0, 0.0
    square = sum((v.frames - 1) * (v.spread_mm or 0.0) ** 2 for v in known) / frames
    freedom = 0.0
    for level in known:
        tau = level.frames / _independent(level)
        # A first-order wander that is worth tau frames to a mean costs a variance that much.
        freedom += (level.frames - 1) * 2.0 * tau / (tau**2 + 1.0)
    return math.sqrt(square), freedom


def _independent(level: Level) -> float:
    """How many independent frames a level rests on."""
    own, spread = level.own_sd_mm, level.spread_mm
    if not own or not spread:
        return float(level.frames)
    return min(max((spread / own) ** 2, 1.0), float(level.frames))


def _square(level: Level) -> float:
    return (level.own_sd_mm or 0.0) ** 2


def _scatter(track: Track, excursion: Excursion) -> float:
    """Doubt of an excursion: a worst of many frames strays less than single frames of a hold."""
    spread, _ = _pooled(list(levels_of(track).values()))
    return max(spread, excursion.sd_mm or 0.0)


def _excursions(now: Track, before: Track, matches: Sequence[Match]) -> Iterator[Pair]:
    """How far it went from zero in ramps between holds that both runs have."""
    mine = {e.segment: e for e in now.excursions}
    theirs = {e.segment: e for e in before.excursions}
    for one, other in pairwise(matches):
        if other.now - one.now != 2 or other.before - one.before != 2:
            continue
        far, was = mine.get(one.now + 1), theirs.get(one.before + 1)
        if far and was and (sd := math.hypot(_scatter(now, far), _scatter(before, was))):
            size, size_was = abs(far.worst_mm), abs(was.worst_mm)
            detail = f"{_speed(one)} to {_speed(other)}"
            yield Pair(
                "worst excursion", detail, "mm", size, size_was, size - size_was, sd, math.inf
            )
