"""Corrections before and after: where each colour prints now, and where it is expected to."""

from typing import Any

from regscan.job.job import AXES, Station
from regscan.report.views import measured_tracks
from regscan.run import Run
from regscan.verdict.verdict import Correction


def moved_facts(run: Run) -> dict[str, Any]:
    """One row per measurable station but the reference, and half of the scale they share, mm."""
    by_place = {(c.station, c.axis): c for c in run.corrections}
    rows = []
    for station in run.job.press.stations:
        if station.ink != run.job.reference and run.job.ink(station.ink).measurable:
            limits = run.job.tolerance_for(station.ink)
            found = {axis: by_place.get((station.number, axis)) for axis in AXES}
            axes = {a: _places(run, station, c) for a, c in found.items() if c is not None}
            rows.append(
                {
                    "station": station.number,
                    "ink": station.ink,
                    "tolerance_mm": {axis: limits.of(axis) for axis in AXES},
                    "axes": {axis: one for axis, one in axes.items() if one},
                }
            )
    return {"rows": rows, "half_mm": _half_mm(rows), "any": any(c.move_mm for c in run.corrections)}


def _places(run: Run, station: Station, correction: Correction) -> dict[str, Any] | None:
    """Before and after in mm; None where either is not known."""
    if correction.remaining_mm is None or correction.move_mm is None:
        return None
    before = correction.remaining_mm - correction.move_mm
    settled = [
        track.settled
        for track in measured_tracks(run)
        if (track.station, track.axis) == (station.number, correction.axis) and track.settled
    ]
    if not correction.move_mm and settled:
        before = settled[-1].mean_mm  # what waits will end elsewhere: this is where it prints now
    return {
        "before_mm": before,
        "before_sd_mm": settled[-1].sd_mm if settled else None,
        "after_mm": correction.remaining_mm if correction.move_mm else before,
        "sd_mm": correction.sd_mm,
        "moves": bool(correction.move_mm),
    }


def _half_mm(rows: list[dict[str, Any]]) -> float:
    """Half of the scale, mm: tolerances and places fit in."""
    reach = [1.3 * mm for row in rows for mm in row["tolerance_mm"].values()]
    for row in rows:
        for one in row["axes"].values():
            reach += [1.1 * abs(one["before_mm"]), 1.1 * abs(one["after_mm"])]
    return max(reach, default=1.0)
