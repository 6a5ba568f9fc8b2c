"""Operator edge and drive edge together: shift, skew and width (docs/how/edges.md)."""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from regscan.drift.across import EdgeLevel, EdgePair, Figure
from regscan.drift.drift import Level, Segment
from regscan.drift.frames import Frames
from regscan.drift.levels import find_levels
from regscan.drift.pairing import Both
from regscan.drift.printed import segment_of
from regscan.drift.series import Series
from regscan.job.job import Job

ON_ONE_RULER = 0.5
"""Mark sets further apart than this share of the web have their places on one ruler."""


@dataclass(frozen=True, slots=True)
class Spacing:
    """W, the distance between the two mark sets, and where it was taken from, in words."""

    mm: float
    source: str


def edge_spacing(job: Job, ink: str) -> Spacing:
    """W for an ink: what the job says, else its marks' places, else the web width.

    The places count only where they lie further apart than half the web: two sets that
    each count from their own edge have about the same places.
    """
    if job.press.edge_spacing_mm is not None:
        return Spacing(job.press.edge_spacing_mm, "edge_spacing_mm of the job")
    places = {m.edge: m.lateral_mm for m in job.marks if m.ink == ink}
    if {"operator", "drive"} <= set(places):
        apart = places["drive"] - places["operator"]
        if apart > ON_ONE_RULER * job.press.web_width_mm:
            return Spacing(apart, "the places of its marks")
    return Spacing(job.press.web_width_mm, "the web width, a little more than from mark to mark")


def edge_level(along: tuple[Level, Level], across: tuple[Level, Level], w_mm: float) -> EdgeLevel:
    """The four numbers of one hold.

    along, across   (mean of the edges, drive minus operator) on each axis.
    """
    (md, apart), (cd, wider) = along, across
    return EdgeLevel(
        segment=md.segment,
        speed_m_min=md.speed_m_min,
        frames=min(level.frames for level in (md, apart, cd, wider)),
        md_shift_mm=_figure(md),
        cd_shift_mm=_figure(cd),
        skew_mrad=_figure(apart, 1e3 / w_mm),
        width_mm=_figure(wider),
        width_strain_ppm=_figure(wider, 1e6 / w_mm),
        doubtful=any(level.doubtful for level in (md, apart, cd, wider)),
    )


def _figure(level: Level, scale: float = 1.0) -> Figure:
    return Figure(level.mean_mm * scale, None if level.sd_mm is None else level.sd_mm * scale)


def find_edges(
    pairs: Iterable[Both], frames: Frames, segments: tuple[Segment, ...], job: Job
) -> tuple[EdgePair, ...]:
    """One EdgePair per colour seen at both edges; none where a run shows one mark set."""
    by_view: dict[tuple[str, str, str], dict[str, Both]] = {}
    for both in pairs:
        view = both.operator.ink, both.operator.camera, both.drive.camera
        by_view.setdefault(view, {})[both.operator.axis] = both
    return tuple(_pair(axes, frames, segments, job) for axes in by_view.values())


def _pair(
    axes: dict[str, Both], frames: Frames, segments: tuple[Segment, ...], job: Job
) -> EdgePair:
    one = axes["circumferential"]
    spacing = edge_spacing(job, one.operator.ink)
    along = dict(_two_levels(one, frames, segments, job))
    across = dict(_two_levels(axes["lateral"], frames, segments, job))
    levels = tuple(
        edge_level(along[number], across[number], spacing.mm)
        for number in along
        if number in across
    )
    return EdgePair(
        station=one.operator.station,
        ink=one.operator.ink,
        camera=one.operator.camera,
        drive_camera=one.drive.camera,
        spacing_mm=spacing.mm,
        spacing_from=spacing.source,
        paired=one.mean is not None,
        levels=levels,
        settled=levels[-1] if levels else None,
    )


def _two_levels(
    both: Both, frames: Frames, segments: tuple[Segment, ...], job: Job
) -> Iterator[tuple[int, tuple[Level, Level]]]:
    """(segment, (mean, difference)) for every hold in which both edges were seen."""

    def levels(series: Series) -> dict[int, Level]:
        found = find_levels(series, segment_of(series, frames, segments, job), segments)
        return {level.segment: level for level in found}

    if both.mean and both.difference:
        means, differences = levels(both.mean), levels(both.difference)
        yield from ((n, (means[n], differences[n])) for n in means if n in differences)
        return
    operator, drive = levels(both.operator), levels(both.drive)
    for n in operator:
        if n in drive:
            yield n, (_middle(operator[n], drive[n]), _apart(operator[n], drive[n]))


def _apart(operator: Level, drive: Level) -> Level:
    """Drive minus operator, the two with doubts of their own: each has its own reference."""
    return _combined(operator, drive, drive.mean_mm - operator.mean_mm, 1.0)


def _middle(operator: Level, drive: Level) -> Level:
    return _combined(operator, drive, (drive.mean_mm + operator.mean_mm) / 2.0, 0.5)


def _combined(operator: Level, drive: Level, value_mm: float, share: float) -> Level:
    known = operator.sd_mm is not None and drive.sd_mm is not None
    sd = share * math.hypot(operator.sd_mm or 0.0, drive.sd_mm or 0.0) if known else None
    return Level(
        segment=operator.segment,
        speed_m_min=operator.speed_m_min,
        frames=min(operator.frames, drive.frames),
        mean_mm=value_mm,
        sd_mm=sd,
        spread_mm=None,
        doubtful=operator.doubtful or drive.doubtful,
        zero_sd_mm=share * float(np.hypot(operator.zero_sd_mm, drive.zero_sd_mm)),
    )
