"""Periodic movements: found in what is left, put to the stations they belong to, taken out.

One mark per repeat samples a wave at every repeat, so what is seen may be an alias; a wave's
phase from station to station is therefore left free, and only which stations move is told.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from regscan.drift.model.field import Field
from regscan.drift.model.fit import Fit, Scale, fit
from regscan.drift.model.movement import Movement, columns_of, own_at, shared_out
from regscan.drift.model.patterns import Pattern, each_station, pattern, web_pattern
from regscan.drift.model.prices import PER_SIZE
from regscan.drift.model.roll import find_roll
from regscan.drift.model.shapes import Shape, shape
from regscan.drift.model.spectrum import best_alias, find_peak, highest_frequency, settled
from regscan.drift.model.transport import DRIVES

MOST = 4
ENOUGH = 400  # moments that tell which station's amplitudes a pattern asks for
CERTAIN = 10.0  # what runs round the repeat has a length that nobody had to search for


@dataclass(frozen=True, slots=True)
class Care:
    """When a wave is believed.

    entry        what it must take away of the misfit beside the price of its sizes:
                 thousands of frequencies were looked at.
    least_turns  fewer turns than this in the run cannot be told from a trend.
    """

    entry: float = 34.0
    least_turns: float = 4.0


CAREFUL = Care()
EARLY = Care(entry=100.0, least_turns=9.0)
"""Before slow things are taken out only what nothing slow can feign is believed."""


def find_waves(
    field: Field, scale: Scale, left_mm: np.ndarray, care: Care = CAREFUL
) -> list[Movement]:
    """Every periodic movement in residuals, the clearest first."""
    found: list[Movement] = []
    rolled = True
    for _ in range(MOST):
        series = left_mm * field.weight @ _independent(scale.precision)
        roll = find_roll(field, series) if rolled else None
        rolled = roll is not None
        best = _next(field, scale, left_mm, care, roll)
        if best is None or best[1] < care.entry:
            break
        found.append(best[0])
        columns = best[0].at(field)
        left_mm = left_mm - columns @ fit(replace(field, value_mm=left_mm), scale, columns).size
    return found


def _next(
    field: Field, scale: Scale, left_mm: np.ndarray, care: Care, roll: Shape | None
) -> tuple[Movement, float] | None:
    tried = [_round(field, scale, left_mm)]
    series = left_mm * field.weight @ _independent(scale.precision)
    for kind, name, at, highest in _ways(field):
        peak = find_peak(at, series, care.least_turns, highest)
        if peak is not None:
            frequency = settled(at, series, peak.frequency)
            pitch = _same_place_pitch(field) if kind == "wave" else None
            if pitch is not None:
                frequency = settled(at, series, best_alias(at, series, frequency, pitch))
            length = 1.0 / frequency
            shapes = tuple(shape(kind, **{name: length, "quarter": float(q)}) for q in (0, 1))
            tried.append(_placed(field, scale, left_mm, shapes))
    if roll is not None:
        tried.append(_placed(field, scale, left_mm, (roll, roll.but(quarter=1.0))))
    return max((pair for pair in tried if pair), key=lambda pair: pair[1], default=None)


def _same_place_pitch(field: Field) -> float | None:
    """Web between frames that show one place of the repeat, where they show several."""
    share, web = field.clock.round_share, field.clock.web_m
    if share is None or web is None:
        return None
    same = np.abs(share[:, 0] - share[0, 0]) < 0.005
    if same.mean() > 0.9 or same.sum() < 5:
        return None
    steps = np.diff(web[same, 0])
    return float(np.percentile(steps, 10))


def _independent(precision: np.ndarray) -> np.ndarray:
    """Turns offsets that share the reference's noise into as many independent series."""
    values, vectors = np.linalg.eigh(precision)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T


def _ways(field: Field) -> Iterator[tuple[str, str, np.ndarray, float]]:
    """(kind, setting, positions, highest frequency): metres, and seconds where they differ."""
    clock = field.clock
    if clock.web_m is not None:
        at = clock.web_m[:, 0] - clock.web_m[0, 0]
        yield "wave", "length_m", at, highest_frequency(at)
    if clock.time_s is not None and (clock.web_m is None or clock.speeds_differ):
        at = clock.time_s[:, 0] - clock.time_s[0, 0]
        pitch = float(np.median(np.diff(at)))
        yield "swing", "period_s", at, 0.5 / max(pitch, 1e-6)


def _round(field: Field, scale: Scale, left_mm: np.ndarray) -> tuple[Movement, float] | None:
    """What runs round the repeat, where frames show several places of it."""
    share = field.clock.round_share
    if share is None or len(np.unique(np.round(share[:, 0], 2))) < 3:
        return None
    wave = tuple(shape("round", order=1.0, quarter=float(q)) for q in (0, 1))
    tried = [_placed(field, scale, left_mm, wave)]
    if field.channel == "lateral":
        tried.append(_placed(field, scale, left_mm, (shape("turned"),)))
    move, score = max(tried, key=lambda pair: pair[1])
    return move, score + CERTAIN


def _placed(
    field: Field, scale: Scale, left_mm: np.ndarray, shapes: tuple[Shape, ...]
) -> tuple[Movement, float]:
    """The wave with the pattern that explains it at the least price, and its score."""
    rest = replace(field, value_mm=left_mm)
    free = Movement(shapes, each_station(field.stations, field.columns, field.reference))
    base = fit(rest, scale, columns_of(field, []))
    whole = fit(rest, scale, free.at(field))
    share = Share(field, free, whole)
    best, top = free, base.misfit - whole.misfit - PER_SIZE * free.sizes
    for one in wave_patterns(field, shapes[0].kind):
        move = Movement(shapes, one)
        if one.kind in DRIVES:
            # How the web answers changes along the run; only a fit of its own can tell.
            gain = base.misfit - fit(rest, scale, move.at(field)).misfit
        else:
            gain = share.of(one)
        score = gain - PER_SIZE * move.sizes
        if score > top:
            best, top = move, score
    return best, top


def wave_patterns(field: Field, kind: str) -> list[Pattern]:
    """One station, all from one on, and for what the web carries in seconds its own answer."""
    stations = field.stations
    found = [pattern("one", k, row) for k, row in enumerate(np.eye(stations))]
    told = int(field.columns.max())
    found += [
        each_station(stations, field.columns, field.reference, k)
        for k in range(1, min(stations - 2, told) + 1)
    ]
    # At one speed a guide's seconds are metres too.
    carried = kind in ("swing", "roll") or (kind == "wave" and not field.clock.speeds_differ)
    if carried and field.clock.web_m is not None:
        if field.channel == "lateral":
            found.append(web_pattern("side", field.spans))
        elif field.channel != "width":
            found.append(web_pattern("strain", field.spans))
    return found


class Share:
    """How much of a free fit's gain a pattern keeps, from the free amplitudes alone."""

    def __init__(self, field: Field, free: Movement, whole: Fit) -> None:
        self.field, self.size = field, whole.size
        some = slice(None, None, max(len(field.starts) // ENOUGH, 1))
        self.own = [own_at(field, one, None)[some] for one in free.shapes]
        basis = shared_out(field, self.own, free.pattern)
        self.basis = basis.reshape(-1, basis.shape[2])
        gram = self.basis.T @ self.basis
        self.gram = gram + 1e-9 * np.trace(gram) / len(gram) * np.eye(len(gram))
        self.weight = np.linalg.inv(whole.covariance)

    def of(self, pattern: Pattern) -> float:
        """The gain of a pattern that the free one holds as a special case."""
        wanted = shared_out(self.field, self.own, pattern)
        across = self.basis.T @ wanted.reshape(-1, wanted.shape[2])
        onto = np.linalg.solve(self.gram, across)
        target = onto.T @ self.weight @ self.size
        return float(target @ np.linalg.pinv(onto.T @ self.weight @ onto) @ target)
