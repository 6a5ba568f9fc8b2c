"""The tables of the page: moves, stretches outside tolerance, levels, the gate's cases."""

from typing import Any

from regscan.drift.drift import Segment, Track
from regscan.job.job import Axis
from regscan.report.views import measured_tracks, view_of
from regscan.report.words import count, offset_words, side
from regscan.run import Run
from regscan.verdict.verdict import Correction

# Which way a move shifts the print: the key of the little arrow beside its words.
_ARROWS: dict[Axis, tuple[str, str]] = {
    "circumferential": ("advance", "retard"),
    "lateral": ("operator", "drive"),
}


def move_facts(run: Run) -> dict[str, Any]:
    """Moves to make, stations to leave alone, and those not measured."""
    wanted = [c for c in run.corrections if c.ink != run.job.reference]
    return {
        "make": _grouped([correction for correction in wanted if correction.move_mm]),
        "leave": _by_station([c for c in wanted if c.move_mm == 0]),
        "unknown": _by_station([c for c in wanted if c.move_mm is None]),
    }


def _grouped(corrections: list[Correction]) -> list[dict[str, Any]]:
    """Each station with its moves, in the order of the press."""
    stations = dict.fromkeys((c.station, c.ink) for c in corrections)
    return [
        {
            "station": station,
            "ink": ink,
            "moves": [_move(c) for c in corrections if (c.station, c.ink) == (station, ink)],
        }
        for station, ink in stations
    ]


def _by_station(corrections: list[Correction]) -> list[dict[str, Any]]:
    """Each station once; axis is "" where both axes are meant."""
    axes: dict[tuple[int, str], list[Axis]] = {}
    for c in corrections:
        axes.setdefault((c.station, c.ink), []).append(c.axis)
    return [
        {"station": station, "ink": ink, "axis": "" if len(set(found)) > 1 else found[0]}
        for (station, ink), found in axes.items()
    ]


def _move(correction: Correction) -> dict[str, Any]:
    move = correction.move_mm
    pair = _ARROWS[correction.axis]
    return {
        "axis": correction.axis,
        "words": correction.words,
        "arrow": None if not move else pair[0] if move < 0 else pair[1],
        "move_mm": move,
        "steps": None if correction.steps is None else count(abs(correction.steps), "step"),
        "remaining_mm": correction.remaining_mm,
        "remaining_side": _side_of(correction),
        "sd_mm": correction.sd_mm,
    }


def _side_of(correction: Correction) -> str:
    """The word beside what will remain; "" where that is not known."""
    remaining = correction.remaining_mm
    return "" if remaining is None else side(correction.axis, remaining)


def stretch_facts(run: Run) -> list[dict[str, Any]]:
    """Every stretch outside tolerance, in the order of the web."""
    found = [
        {
            "station": track.station,
            "ink": track.ink,
            "axis": track.axis,
            "view": view_of(track).words,
            "tolerance_mm": track.tolerance_mm,
            "from_frame": stretch.from_frame,
            "to_frame": stretch.to_frame,
            "frames": stretch.frames,
            "from_m": stretch.from_m,
            "to_m": stretch.to_m,
            "metres": stretch.metres,
            "from_s": stretch.from_s,
            "to_s": stretch.to_s,
            "left_at_speed_m_min": stretch.left_at_speed_m_min,
            "back_at_speed_m_min": stretch.back_at_speed_m_min,
            "worst_mm": stretch.worst_mm,
            "worst_words": offset_words(track.axis, stretch.worst_mm, stretch.worst_sd_mm),
            "returned": stretch.returned,
        }
        for track in measured_tracks(run)
        for stretch in track.stretches
    ]
    keys = ("from_m", "from_s")
    return sorted(found, key=lambda s: [s[k] if s[k] is not None else 0.0 for k in keys])


def level_facts(run: Run) -> dict[str, Any]:
    """Levels of holds and worst points of ramps, one row per track, one column per segment."""
    tracks = measured_tracks(run)
    wanted = {level.segment for track in tracks for level in track.levels}
    wanted |= {e.segment for track in tracks for e in track.excursions}
    segments = [s for s in run.drift.segments if s.number in wanted]
    return {
        "columns": [_column(s, n) for n, s in enumerate(segments, start=1)],
        "rows": [_level_row(track, segments) for track in tracks],
    }


def _column(segment: Segment, number: int) -> dict[str, Any]:
    return {
        "number": number,
        "phase": segment.phase,
        "start_m": segment.start_m,
        "end_m": segment.end_m,
        "start_speed_m_min": segment.start_speed_m_min,
        "end_speed_m_min": segment.end_speed_m_min,
    }


def _level_row(track: Track, segments: list[Segment]) -> dict[str, Any]:
    levels = {level.segment: level for level in track.levels}
    worst = {excursion.segment: excursion for excursion in track.excursions}
    moved = {change.to_segment: change for change in track.changes if change.significant}
    cells: list[dict[str, Any]] = []
    for segment in segments:
        n = segment.number
        cell: dict[str, Any]
        if n in levels:
            level = levels[n]
            cell = {"kind": "level", "mm": level.mean_mm, "sd_mm": level.sd_mm}
            cell |= {"spread_mm": level.spread_mm, "frames": level.frames}
            cell["doubtful"] = level.doubtful
            cell["change_mm"] = moved[n].change_mm if n in moved else None
        elif n in worst:
            cell = {"kind": "worst", "mm": worst[n].worst_mm, "sd_mm": worst[n].sd_mm}
        else:
            cell = {"kind": "none", "mm": None, "sd_mm": None}
        cell["outside"] = cell["mm"] is not None and abs(cell["mm"]) > track.tolerance_mm
        cells.append(cell)
    return {
        "station": track.station,
        "ink": track.ink,
        "axis": track.axis,
        "view": view_of(track).words,
        "tolerance_mm": track.tolerance_mm,
        "metres_outside": track.metres_outside,
        "frames_outside": track.frames_outside,
        "cells": cells,
    }


def case_facts(run: Run) -> list[dict[str, Any]]:
    """The gate's answers, worst first."""
    order = {"out of tolerance": 0, "cannot be decided": 1, "in register": 2}
    cases = sorted(run.verdict.cases, key=lambda c: (order[c.answer], c.station, c.axis))
    return [
        {
            "station": case.station,
            "ink": case.ink,
            "axis": case.axis,
            "view": view_of(case).words,
            "tolerance_mm": case.tolerance_mm,
            "offset_mm": case.offset_mm,
            "words": None if case.offset_mm is None else offset_words(case.axis, case.offset_mm),
            "sd_mm": case.sd_mm,
            "probability": case.probability,
            "frames": case.frames,
            "answer": case.answer,
            "sign": {"in register": "in", "out of tolerance": "out"}.get(case.answer, "unknown"),
            "why": case.why,
        }
        for case in cases
    ]
