"""Speed term, warm-up, play and noise from the levels of a run's holds alone.

The levels of one colour are explained by at most four numbers: a level, a part proportional
to speed, a part that grows from the first hold to the last, and half the play, + where the
hold was come down to. A part is taken in only where the holds can tell it from the others:
speed needs two speeds, growth needs one speed held early and late, play one speed come to from
above and from below. Weighted least squares; where holds are left over, their misfit widens
the doubt.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from regscan.drift.drift import Level, Segment, Track
from regscan.history.records import Measure, Reading
from regscan.history.views import best_tracks
from regscan.run import Run

ALIKE = 0.05
"""Holds are of one speed when they differ by less than this share of the top speed."""


@dataclass(frozen=True, slots=True)
class _Hold:
    """A level with a doubt; from_above is +1 come down to, -1 come up to, 0 for neither."""

    mean_mm: float
    sd_mm: float
    speed_m_min: float
    from_above: int


def readings_of_holds(run: Run) -> Iterator[Reading]:
    """The measures that holds can show, of every colour but the reference."""
    for track in best_tracks(run).values():
        yield from _of_track(track, run.drift.segments)


def _of_track(track: Track, segments: tuple[Segment, ...]) -> Iterator[Reading]:
    def reading(measure: Measure, value: float, sd: float | None) -> Reading:
        return Reading(track.station, track.ink, track.axis, measure, value, sd, track.tolerance_mm)

    noise = _noise(track.levels)
    if noise is not None:
        yield reading("noise", *noise)
    for measure, value, sd in terms(_holds(track.levels, segments)):
        yield reading(measure, abs(value) if measure == "play" else value, sd)


def _noise(levels: tuple[Level, ...]) -> tuple[float, float | None] | None:
    """Spread of single frames over all holds, and its standard deviation.

    A hold is worth (spread / sd of mean)^2 independent frames; a spread of n of them is
    known to 1 in sqrt(2 n).
    """
    known = [(level.spread_mm, level.frames, level.own_sd_mm) for level in levels]
    used = [(spread, frames, sd) for spread, frames, sd in known if spread and frames > 1]
    if not used:
        return None
    freedom = sum(frames - 1 for _, frames, _ in used)
    noise = math.sqrt(sum((frames - 1) * spread**2 for spread, frames, _ in used) / freedom)
    worth = sum(min((spread / sd) ** 2, frames) for spread, frames, sd in used if sd)
    return noise, noise / math.sqrt(2.0 * worth) if worth > 0 else None


def _holds(levels: tuple[Level, ...], segments: tuple[Segment, ...]) -> list[_Hold]:
    order = {segment.number: place for place, segment in enumerate(segments)}
    found = []
    for level in levels:
        sd, speed = level.own_sd_mm, level.speed_m_min
        if not sd or speed is None or level.segment not in order:
            continue
        before = order[level.segment] - 1
        phase = segments[before].phase if before >= 0 else "unknown"
        side = {"slowing down": 1, "speeding up": -1}.get(phase, 0)
        found.append(_Hold(level.mean_mm, sd, speed, side))
    return found


def terms(holds: list[_Hold]) -> Iterator[tuple[Measure, float, float]]:
    """(measure, value, sd) of every part that these holds can tell apart."""
    if len(holds) < 2:
        return
    columns = _columns(holds)
    if not columns:
        return
    matrix = np.column_stack([np.ones(len(holds)), *columns.values()])
    sd = np.array([hold.sd_mm for hold in holds])
    weighted = matrix / sd[:, None]
    if np.linalg.matrix_rank(weighted) < matrix.shape[1]:
        return
    target = np.array([hold.mean_mm for hold in holds]) / sd
    found, *_ = np.linalg.lstsq(weighted, target, rcond=None)
    left = len(holds) - matrix.shape[1]
    misfit = float(((target - weighted @ found) ** 2).sum()) / left if left else 1.0
    doubt = np.sqrt(np.diag(np.linalg.inv(weighted.T @ weighted)) * max(misfit, 1.0))
    for place, measure in enumerate(columns, 1):
        yield measure, float(found[place]), float(doubt[place])


def _columns(holds: list[_Hold]) -> dict[Measure, np.ndarray]:
    speed = np.array([hold.speed_m_min for hold in holds], dtype=float)
    order = np.linspace(0.0, 1.0, len(holds))
    sides = np.array([hold.from_above for hold in holds])
    near = ALIKE * speed.max()
    columns: dict[Measure, np.ndarray] = {}
    if np.ptp(speed) > 4.0 * near:
        columns["speed term"] = speed / 100.0
    if abs(speed[0] - speed[-1]) <= near:
        columns["warm-up"] = order
    below = speed[sides == -1]
    if any(np.abs(below - v).min(initial=np.inf) <= near for v in speed[sides == 1]):
        columns["play"] = sides / 2.0
    while columns and len(columns) + 1 > len(holds):
        columns.popitem()
    return columns
