"""What several cameras and both web edges say of one colour, put together for one move."""

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from regscan.drift.changes import is_significant
from regscan.drift.drift import Level, Track
from regscan.drift.stretches import FEWEST
from regscan.job.job import Axis

SHARE = 0.25
"""Edges that differ by more than this share of the tolerance are spoken of."""

PRINT_NOISE_MM = 0.015
"""How much single frames differ on good print, one standard deviation, at most."""

_UNCURED: dict[Axis, str] = {
    "circumferential": "is skew, which no register move cures",
    "lateral": "is a change of width, which no register move cures",
}


@dataclass(frozen=True, slots=True)
class View:
    """The settled offset of a colour from all its tracks; sd_mm None where no doubt is known.

    apart         in words, what the two edges differ by and no register move can cure; "" for
                  none.
    edges_mm      the offset at each web edge (one number where there is one mark set).
    speed_m_min   of the hold it rests on; None where not known.
    """

    offset_mm: float
    sd_mm: float | None
    apart: str = ""
    edges_mm: tuple[float, ...] = ()
    speed_m_min: float | None = None


def settled_view(tracks: Sequence[Track]) -> View | None:
    """One settled offset from all tracks of one colour and axis; None when there is none.

    Only tracks settled in the latest hold count, and none that rests on doubtful
    marks. Cameras on one edge are weighed by their doubt; the edges count alike,
    since (operator + drive) / 2 is the shift and their difference is skew or width.
    """
    used = [(t, t.settled) for t in tracks if t.settled and not t.settled.doubtful]
    if not used:
        return None
    latest = max(level.segment for _, level in used)
    by_edge = defaultdict(list)
    for track, level in used:
        if level.segment == latest:
            by_edge[track.edge].append(level)
    edges = {edge: weighted(levels) for edge, levels in by_edge.items()}
    offset, sd = _middle(edges.values())
    speed = next(level.speed_m_min for _, level in used if level.segment == latest)
    means = tuple(mean for mean, _ in edges.values())
    return View(offset, sd, _apart(edges, tracks[0]), means, speed)


def weighted(levels: Sequence[Level]) -> tuple[float, float | None]:
    """(mean, sd) of the same offset seen by several cameras, weighed by their doubt.

    Where they differ by more than their doubt explains, the doubt grows to match
    (the Birge ratio), so that a camera out of adjustment is not averaged away.
    """
    if len(levels) == 1:
        return levels[0].mean_mm, _joined(own_doubt_mm(levels[0]), levels[0].zero_sd_mm)
    sds = [own_doubt_mm(level) for level in levels]
    zero = max(level.zero_sd_mm for level in levels)  # they all count from one zero
    if not all(sds):
        mean = sum(level.mean_mm for level in levels) / len(levels)
        return mean, _joined(_plain(sds), zero)
    weights = [1.0 / (sd or 1.0) ** 2 for sd in sds]
    total = sum(weights)
    mean = sum(w * level.mean_mm for w, level in zip(weights, levels, strict=True)) / total
    misfit = sum(w * (v.mean_mm - mean) ** 2 for w, v in zip(weights, levels, strict=True))
    birge = math.sqrt(misfit / (len(levels) - 1))
    return mean, math.hypot(max(birge, 1.0) / math.sqrt(total), zero)


def own_doubt_mm(level: Level) -> float | None:
    """The doubt of a level without that of the zero; of few frames, with print noise in it.

    One frame cannot show how frames differ, and two to four hardly can: then a print noise
    of PRINT_NOISE_MM for each is taken as given (common practice, no source).
    """
    own = level.own_sd_mm
    if own is None or level.frames >= FEWEST:
        return own
    return max(own, math.hypot(own, PRINT_NOISE_MM) / math.sqrt(level.frames))


def _joined(own: float | None, zero: float) -> float | None:
    return None if own is None else math.hypot(own, zero)


def _plain(sds: Sequence[float | None]) -> float | None:
    known = [sd for sd in sds if sd is not None]
    if len(known) < len(sds):
        return None
    return math.sqrt(sum(sd**2 for sd in known)) / len(known)


def _middle(edges: Iterable[tuple[float, float | None]]) -> tuple[float, float | None]:
    pairs = list(edges)
    return sum(mean for mean, _ in pairs) / len(pairs), _plain([sd for _, sd in pairs])


def _apart(edges: dict[str, tuple[float, float | None]], track: Track) -> str:
    if not {"operator", "drive"} <= set(edges):
        return ""
    (operator, sd_o), (drive, sd_d) = edges["operator"], edges["drive"]
    difference = drive - operator
    sd = math.hypot(sd_o, sd_d) if sd_o is not None and sd_d is not None else None
    if abs(difference) < SHARE * track.tolerance_mm or not is_significant(difference, sd):
        return ""
    return f"{abs(difference):.3f} mm between the web edges {_UNCURED[track.axis]}"
