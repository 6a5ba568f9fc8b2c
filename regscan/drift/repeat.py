"""Round the repeat: plate turned or cylinder across the press, and run-out (docs/how/edges.md)."""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from regscan.drift.across import EdgePair, Figure, RoundPlace, RoundRepeat
from regscan.drift.frames import Frames
from regscan.drift.pairing import Both
from regscan.drift.places import Places, Unlike, find_places, fit_shape, unlike
from regscan.drift.repeat_words import Said, say
from regscan.drift.series import Series
from regscan.job.job import Job

SEAM_SURE = 9.0
"""The plate begins at the web's zero, unless another seam fits better by this (chi squared)."""
RUN_OUT_SURE = 11.83
"""Chi squared of two numbers beyond three standard deviations' chance (0.27 %)."""


@dataclass(frozen=True, slots=True)
class _Seen:
    """One colour to be looked at: both axes as one edge, or the mean of both edges, had it."""

    along: Series
    across: Series
    edge: str
    pair: EdgePair | None


def find_round(
    series: list[Series],
    both: Iterable[Both],
    pairs: tuple[EdgePair, ...],
    frames: Frames,
    job: Job,
) -> tuple[RoundRepeat, ...]:
    """One RoundRepeat per colour and view that has two edges or several places round the repeat."""
    found = (_describe(seen, frames, job) for seen in _views(series, list(both), pairs, job))
    return tuple(one for one in found if one)


def _views(
    series: list[Series], both: list[Both], pairs: tuple[EdgePair, ...], job: Job
) -> Iterator[_Seen]:
    """The mean of both edges where frames pair; else every edge for itself."""
    plain = {(s.ink, s.camera, s.edge, s.axis): s for s in series if s.ink != job.reference}
    means = {(b.mean.ink, b.mean.camera, b.mean.axis): b for b in both if b.mean}
    own = {(p.ink, p.camera): p for p in pairs}
    drive = {(p.ink, p.drive_camera): p for p in pairs}
    taken = set()
    for (ink, camera, axis), pair in means.items():
        across = means.get((ink, camera, "lateral"))
        if axis == "lateral" or not (pair.mean and across and across.mean):
            continue
        taken |= {(ink, camera, "operator"), (ink, pair.drive.camera, "drive")}
        yield _Seen(pair.mean, across.mean, "both", own.get((ink, camera)))
    for (ink, camera, edge, axis), along in plain.items():
        if axis == "circumferential" and (ink, camera, edge) not in taken:
            across_edge = plain[ink, camera, edge, "lateral"]
            of_edge = drive if edge == "drive" else own
            yield _Seen(along, across_edge, edge, of_edge.get((ink, camera)))


def _describe(seen: _Seen, frames: Frames, job: Job) -> RoundRepeat | None:
    places = find_places(frames.web_m[seen.along.frame], job.press.repeat_mm)
    skew = seen.pair.settled.skew_mrad if seen.pair and seen.pair.settled else None
    along = across = None
    if places is not None and len(places.at_mm) > 1:
        along, across = (_unlike(s, frames, places) for s in (seen.along, seen.across))
    elif skew is None:
        return None
    said = _said(seen, skew, places, (along, across), job)
    answer, words = say(said)
    return RoundRepeat(
        station=seen.along.station,
        ink=said.ink,
        camera=seen.along.camera,
        edge=seen.edge,
        places=_places(places, along, across),
        rotation_mrad=said.rotation,
        shear_mrad=said.shear,
        run_out_mm=said.run_out,
        late_at_mm=said.late_at_mm,
        run_out_found=said.run_out_found,
        answer=answer,
        words=words,
    )


def _said(
    seen: _Seen,
    skew: Figure | None,
    places: Places | None,
    unlike_on: tuple[Unlike | None, Unlike | None],
    job: Job,
) -> Said:
    along, across = unlike_on
    turn = _rotation(across, places, skew, job) if across and places else None
    out = _run_out(along, places, job) if along and places else None
    return Said(
        ink=seen.along.ink,
        repeat_mm=job.press.repeat_mm,
        spacing_mm=seen.pair.spacing_mm if seen.pair else job.press.web_width_mm,
        tolerance_mm=seen.across.tolerance_mm,
        places=len(places.at_mm) if places else 0,
        skew=skew,
        rotation=turn.figure if turn else None,
        shear=_minus(skew, turn.figure) if skew and turn else None,
        seam_mm=turn.seam_mm if turn else None,
        run_out=out.figure if out else None,
        late_at_mm=out.late_at_mm if out else None,
        run_out_found=bool(out and out.found),
    )


def _unlike(series: Series, frames: Frames, places: Places) -> Unlike | None:
    used = np.flatnonzero(series.ok & (places.of >= 0))
    used = used[np.argsort(frames.web_m[series.frame[used]], kind="stable")]
    return unlike(series.value_mm[used], places.of[used], len(places.at_mm))


def _places(
    places: Places | None, along: Unlike | None, across: Unlike | None
) -> tuple[RoundPlace, ...]:
    if not (places and along and across):
        return ()
    return tuple(
        RoundPlace(
            place_mm=float(places.at_mm[k]),
            frames=int(along.frames[k]),
            circumferential_mm=Figure(float(along.effect_mm[k]), float(along.sd_mm[k])),
            lateral_mm=Figure(float(across.effect_mm[k]), float(across.sd_mm[k])),
        )
        for k in range(len(places.at_mm))
    )


@dataclass(frozen=True, slots=True)
class _Turn:
    """The plate's turn in mrad, and the place that comes first on the plate (None: as the web)."""

    figure: Figure
    seam_mm: float | None


def _rotation(seen: Unlike, places: Places, skew: Figure | None, job: Job) -> _Turn:
    """The plate's turn: minus the slope of the lateral offset over its length.

    A plate's length ends somewhere between two places, and there the line starts anew:
    at the web's zero, unless another seam fits surely better.
    """
    lines = []
    for first in range(len(places.at_mm)):
        at = places.at_mm + job.press.repeat_mm * (np.arange(len(places.at_mm)) < first)
        line = fit_shape(seen, at[:, None])
        turn = Figure(-1e3 * float(line.sizes[0]), 1e3 * math.sqrt(float(line.covariance[0, 0])))
        lines.append((line.misfit if line.freedom else _unlike_skew(turn, skew), turn))
    best = min(range(len(lines)), key=lambda k: lines[k][0])
    better = lines[0][0] - lines[best][0] > SEAM_SURE
    if len(lines) == 2 and lines[best][0] > SEAM_SURE:
        better = False  # two places fit any line: only one that is all of the skew counts
    best = best if better else 0
    return _Turn(lines[best][1], float(places.at_mm[best]) if best else None)


def _unlike_skew(turn: Figure, skew: Figure | None) -> float:
    """Chi squared of a turn against the skew of the edges; 0 where that is not known."""
    if skew is None or skew.sd is None or turn.sd is None:
        return 0.0
    return (turn.value - skew.value) ** 2 / max(turn.sd**2 + skew.sd**2, 1e-12)


@dataclass(frozen=True, slots=True)
class _RunOut:
    figure: Figure
    late_at_mm: float
    found: bool


def _run_out(seen: Unlike, places: Places, job: Job) -> _RunOut | None:
    """Once per repeat, a cos + b sin: its amplitude, and where it prints latest."""
    if len(places.at_mm) < 3:
        return None
    angle = 2.0 * math.pi * places.at_mm / job.press.repeat_mm
    wave = fit_shape(seen, np.stack([np.cos(angle), np.sin(angle)], axis=1))
    size = float(np.hypot(*wave.sizes))
    toward = wave.sizes / size if size else np.array([1.0, 0.0])
    sd = math.sqrt(float(toward @ wave.covariance @ toward))
    chi = float(wave.sizes @ np.linalg.inv(wave.covariance) @ wave.sizes)
    share = math.atan2(float(wave.sizes[1]), float(wave.sizes[0])) / (2.0 * math.pi)
    return _RunOut(Figure(size, sd), share % 1.0 * job.press.repeat_mm, chi > RUN_OUT_SURE)


def _minus(one: Figure, other: Figure) -> Figure:
    known = one.sd is not None and other.sd is not None
    sd = math.hypot(one.sd or 0.0, other.sd or 0.0) if known else None
    return Figure(one.value - other.value, sd)
