"""Where two cameras see the same pair of colours differently."""

import math
from itertools import combinations

from regscan.drift.changes import combined_sd, is_significant
from regscan.drift.drift import Disagreement, Level, Track

SHARE = 0.1
"""Cameras disagree from this share of the tolerance on: less changes no decision."""


def find_disagreements(tracks: tuple[Track, ...], reference: str) -> tuple[Disagreement, ...]:
    """Every two views of one colour on one axis, compared in the last hold both have seen.

    The same hold, since two speeds may well give two offsets. Significant when the
    difference is more than its doubt can make and more than a tenth of the tolerance.
    The two web edges are no views of one thing: they differ by skew and width (EdgePair).
    """
    found = []
    for one, other in combinations(tracks, 2):
        if (one.ink, one.axis) != (other.ink, other.axis) or one.ink == reference:
            continue
        if {one.edge, other.edge} == {"operator", "drive"}:
            continue
        pair = _last_common(one, other)
        if pair:
            found.append(_disagreement(one, other, *pair))
    return tuple(found)


def _last_common(one: Track, other: Track) -> tuple[Level, Level] | None:
    theirs = {level.segment: level for level in other.levels}
    both = [(level, theirs[level.segment]) for level in one.levels if level.segment in theirs]
    return both[-1] if both else None


def _disagreement(one: Track, other: Track, mine: Level, theirs: Level) -> Disagreement:
    difference = theirs.mean_mm - mine.mean_mm
    # Two cameras on one edge count from one zero; each edge has a zero of its own.
    same = one.edge == other.edge
    doubts = (_with_camera(mine), _with_camera(theirs)) if same else (mine.sd_mm, theirs.sd_mm)
    sd = combined_sd(*doubts)
    large = abs(difference) > SHARE * one.tolerance_mm
    return Disagreement(
        ink=one.ink,
        axis=one.axis,
        camera=view_name(one.camera, one.edge),
        other_camera=view_name(other.camera, other.edge),
        difference_mm=difference,
        sd_mm=sd,
        significant=large and is_significant(difference, sd),
    )


def _with_camera(level: Level) -> float | None:
    """A level's doubt without that of the zero, but with its camera's calibration."""
    own = level.own_sd_mm
    return None if own is None else math.hypot(own, level.camera_sd_mm)


def view_name(camera: str, edge: str) -> str:
    """What to call a camera and web edge: "end", "end, operator edge", "drive edge"."""
    return ", ".join(part for part in (camera, f"{edge} edge" if edge else "") if part)
