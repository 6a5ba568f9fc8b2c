"""How well the run was measured: counts, doubt, reasons, and what was not measured at all."""

from collections import Counter
from typing import Any

import numpy as np

from regscan.job.job import AXES
from regscan.report.views import View
from regscan.run import Run

SKIPPED_SHOWN = 30
REASONS_SHOWN = 6


def quality_facts(
    run: Run, offsets: np.ndarray, marks: np.ndarray | None, views: list[View]
) -> dict[str, Any]:
    """One row per colour and view; skipped frames with the reason; inks not measurable."""
    skipped = [{"frame": s.frame, "why": s.why} for s in run.inputs.skipped]
    return {
        "frames_found": run.inputs.frames_found,
        "frames_used": run.inputs.frames_used,
        "skipped": skipped[:SKIPPED_SHOWN],
        "skipped_more": max(len(skipped) - SKIPPED_SHOWN, 0),
        "skipped_count": len(skipped),
        "rows": [row for view in views for row in _rows(run, offsets, marks, view)],
        "marks_known": marks is not None,
        "unmeasurable": list(run.job.unmeasurable_inks),
        "disagreements": [
            {
                "ink": d.ink,
                "axis": d.axis,
                "camera": d.camera,
                "other": d.other_camera,
                "difference_mm": d.difference_mm,
                "sd_mm": d.sd_mm,
                "significant": d.significant,
            }
            for d in run.drift.disagreements
        ],
    }


def _rows(
    run: Run, offsets: np.ndarray, marks: np.ndarray | None, view: View
) -> list[dict[str, Any]]:
    seen = offsets[view.holds(offsets)]
    looks = None if marks is None else marks[view.holds(marks)]
    found = []
    for station in run.job.press.stations:
        rows = seen[seen["ink"] == station.ink]
        if len(rows):
            mine = None if looks is None else looks[looks["ink"] == station.ink]
            found.append(
                {
                    "station": station.number,
                    "ink": station.ink,
                    "view": view.words,
                    "reference": station.ink == run.job.reference,
                    **_counts(rows),
                    **_looks(mine),
                }
            )
    return found


def _counts(rows: np.ndarray) -> dict[str, Any]:
    ok = rows[rows["status"] == "ok"]
    notes = Counter(str(note) for note in rows["note"][rows["status"] != "ok"] if note)
    return {
        "ok": len(ok),
        "doubtful": int((rows["status"] == "doubtful").sum()),
        "missing": int((rows["status"] == "missing").sum()),
        "sd_mm": {axis: _median(ok[f"{axis}_sd_mm"]) for axis in AXES},
        "reasons": [
            {"why": why, "frames": frames} for why, frames in notes.most_common(REASONS_SHOWN)
        ],
    }


def _looks(marks: np.ndarray | None) -> dict[str, float | None]:
    """Typical look of the colour's marks; None where marks.csv is not there."""
    names = ("contrast", "edge_px", "area_ratio", "misfit")
    return {name: None if marks is None else _median(marks[name]) for name in names}


def _median(values: np.ndarray) -> float | None:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if len(known) else None
