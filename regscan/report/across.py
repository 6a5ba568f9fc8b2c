"""Both web edges and round the repeat, for the page: shift, skew, width, plate or cylinder."""

from collections.abc import Iterator
from typing import Any

from regscan.drift.across import EdgeLevel, EdgePair, Figure, RoundRepeat
from regscan.drift.cameras import SHARE
from regscan.drift.changes import combined_sd, is_significant
from regscan.drift.drift import Drift
from regscan.report.words import camera_words, plain
from regscan.run import Run


def across_facts(run: Run) -> dict[str, Any]:
    """Empty lists where the run shows one mark set at one place only."""
    return {
        "edges": [
            _edge_row(pair, level, run.drift)
            for pair in run.drift.edges
            for level in _shown(pair, run)
        ],
        "spacings": [
            f"{plain(mm, 1)} mm from mark to mark, taken from {whence}"
            for mm, whence in dict.fromkeys((p.spacing_mm, p.spacing_from) for p in run.drift.edges)
        ],
        "round": [_round_row(one) for one in run.drift.round_repeat],
    }


def _shown(pair: EdgePair, run: Run) -> Iterator[EdgeLevel]:
    """The settled hold, and those before it whose skew or width was another."""
    last = pair.settled
    if last is None:
        return
    tolerance = run.job.tolerance_for(pair.ink)
    for level in pair.levels[:-1]:
        skew = SHARE * tolerance.circumferential_mm / pair.spacing_mm * 1e3
        if _differ(level.skew_mrad, last.skew_mrad, skew) or _differ(
            level.width_mm, last.width_mm, SHARE * tolerance.lateral_mm
        ):
            yield level
    yield last


def _differ(one: Figure, other: Figure, least: float) -> bool:
    change = other.value - one.value
    return abs(change) > least and is_significant(change, combined_sd(one.sd, other.sd))


def _edge_row(pair: EdgePair, level: EdgeLevel, drift: Drift) -> dict[str, Any]:
    phase = next((s.phase for s in drift.segments if s.number == level.segment), "unknown")
    cameras = dict.fromkeys((pair.camera, pair.drive_camera))
    return {
        "station": pair.station,
        "ink": pair.ink,
        "view": camera_words(" and ".join(c for c in cameras if c), ""),
        "speed_m_min": level.speed_m_min if phase == "hold" else None,
        "settled": level == pair.settled,
        "frames": level.frames,
        "doubtful": level.doubtful,
        "md_shift_mm": _figure(level.md_shift_mm),
        "cd_shift_mm": _figure(level.cd_shift_mm),
        "skew_mrad": _figure(level.skew_mrad),
        "width_mm": _figure(level.width_mm),
        "width_strain_ppm": _figure(level.width_strain_ppm),
    }


def _round_row(one: RoundRepeat) -> dict[str, Any]:
    edge = one.edge if one.edge != "both" else ""
    return {
        "station": one.station,
        "ink": one.ink,
        "view": camera_words(one.camera, edge),
        "answer": one.answer,
        "words": one.words[:1].upper() + one.words[1:],
        "places": [
            {
                "place_mm": place.place_mm,
                "frames": place.frames,
                "circumferential": _figure(place.circumferential_mm),
                "lateral": _figure(place.lateral_mm),
            }
            for place in one.places
        ],
    }


def _figure(figure: Figure) -> dict[str, float | None]:
    return {"value": figure.value, "sd": figure.sd}
