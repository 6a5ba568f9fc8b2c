"""What a run cost in web, what the monitor would have said, what an acceptance run lacks."""

from typing import Any

from regscan.drift.cost import Cost, Cut, Settling, WhatIf
from regscan.report.words import camera_words, offset_words
from regscan.run import Run

SHOWN = 40  # rows of a list; a page is to be read
NAMES = {"advised moves": "With the advised moves", "slower ramps": "With slower ramps"}


def cost_facts(run: Run) -> dict[str, Any] | None:
    """The job's cut list, what would have saved web, how long settling took; None if not told."""
    cost = run.drift.cost
    if cost is None:
        return None
    return {
        "metres_total": cost.metres_total,
        "metres_outside": cost.metres_outside,
        "frames_total": cost.frames_total,
        "frames_outside": cost.frames_outside,
        "cuts": [_cut(run, cut) for cut in cost.job_cuts[:SHOWN]],
        "cuts_more": max(len(cost.job_cuts) - SHOWN, 0),
        "what_ifs": [_what_if(one) for one in cost.what_ifs] if cost.cuts else [],
        "settling": _settling(cost),
    }


def _cut(run: Run, cut: Cut) -> dict[str, Any]:
    inks = {station.number: station.ink for station in run.job.press.stations}
    return {
        "from_m": cut.from_m,
        "to_m": cut.to_m,
        "metres": cut.metres,
        "from_frame": cut.from_frame,
        "to_frame": cut.to_frame,
        "frames": cut.frames,
        "station": cut.station,
        "ink": cut.ink,
        "view": camera_words(cut.camera, cut.edge),
        "axis": cut.axis,
        "worst_mm": cut.worst_mm,
        "worst_words": offset_words(cut.axis, cut.worst_mm, cut.worst_sd_mm),
        "stations": [f"{number} {inks[number]}" for number in cut.stations],
    }


def _what_if(one: WhatIf) -> dict[str, Any]:
    return {
        "name": NAMES[one.name],
        "assumption": one.assumption,
        "metres_outside": one.metres_outside,
        "frames_outside": one.frames_outside,
        "unknown": one.unknown,
    }


def _settling(cost: Cost) -> list[dict[str, Any]]:
    """For each colour and axis the longest way it took to settle, and what had not settled."""
    slowest: dict[tuple[int, str], Settling] = {}
    for one in cost.settling:
        key = one.station, one.axis
        if key not in slowest or _later(one, slowest[key]):
            slowest[key] = one
    return [
        {"station": s.station, "ink": s.ink, "axis": s.axis, "metres": s.metres, "why": s.why}
        for s in slowest.values()
    ]


def _later(one: Settling, other: Settling) -> bool:
    """Whether the first took longer; what is not known counts as shorter, to be replaced."""
    return (one.metres or -1.0) > (other.metres or -1.0)


def alert_facts(run: Run) -> dict[str, Any]:
    """What the monitor would have said while the run printed, in order."""
    return {
        "said": [
            {"frame": a.frame, "web_m": a.web_m, "kind": a.kind, "sentence": a.sentence}
            for a in run.drift.alerts[:SHOWN]
        ],
        "more": max(len(run.drift.alerts) - SHOWN, 0),
    }


def acceptance_facts(run: Run) -> dict[str, Any] | None:
    """The run held against the job's acceptance protocol; None where the job names none."""
    check = run.drift.acceptance
    if check is None:
        return None
    return {
        "name": check.name,
        "kept": check.kept,
        "items": [
            {"what": i.what, "wanted": i.wanted, "found": i.found, "missing": i.missing}
            for i in check.items
        ],
    }
