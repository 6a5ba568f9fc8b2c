"""Likely causes with the evidence they rest on; nothing where a run has none to tell."""

from typing import Any

from regscan.drift.behaviour import Behaviour, Behaviours, Finding, Term
from regscan.drift.cause import Cause
from regscan.drift.drift import Track
from regscan.report.views import measured_tracks
from regscan.run import Run

# What a term follows, in words; and those that a chart over speed shows best.
KINDS = {
    "speed": "in proportion to speed, from slow to fast",
    "speed above": "above a certain speed, from slow to fast",
    "speed at the camera": "with the speed at the camera, from slow to fast",
    "acceleration": "with acceleration, from slowing down to speeding up",
    "two levels": "between two levels",
    "warm-up": "as something warms up, from cold to warm",
    "dose": "with the lamp's dose",
    "drift": "steadily, from first to last",
    "step": "in one step, from before to after",
    "passing strain": "as strain passes through the press",
    "passing shift": "as a sideways shift passes through the press",
    "blip": "in one blip",
    "period in metres": "in a wave of fixed length",
    "period in seconds": "in a wave of fixed time",
    "turn of the roll": "with each turn of the reel",
    "round the repeat": "round the repeat",
}
OVER_SPEED = {"speed", "speed above", "speed at the camera", "acceleration", "two levels", "dose"}
# What + and - of a channel mean.
SIDES = {
    "circumferential": ("late", "early"),
    "lateral": ("to drive side", "to operator side"),
    "skew": ("drive side late", "operator side late"),
    "width": ("wider", "narrower"),
}


def cause_facts(run: Run) -> dict[str, Any] | None:
    """Causes, the largest movement first, and what the run cannot tell; None for still frames."""
    behaviours = run.drift.behaviours
    if behaviours is None:
        return None
    return {
        "causes": [_cause(run, behaviours, cause) for cause in run.drift.causes],
        "untold": list(behaviours.untold),
        "reduced": list(behaviours.reduced),
    }


def _cause(run: Run, behaviours: Behaviours, cause: Cause) -> dict[str, Any]:
    findings = [behaviours.findings[k] for k in cause.findings if k < len(behaviours.findings)]
    return {
        "title": cause.title,
        "station": cause.station,
        "ink": cause.ink,
        "sentence": cause.sentence,
        "reason": cause.reason,
        "first_check": cause.first_check,
        "deciding": cause.deciding,
        "runner_up": cause.runner_up.title if cause.runner_up else None,
        "share": _share(cause.share),
        "pattern": cause.pattern,
        "moves_mm": cause.moves_mm,
        "bars": [_bars(run, behaviours, finding) for finding in findings],
        **_shown(run, behaviours, findings[:1]),
    }


def _share(share: float) -> str:
    """How much of the belief, never as certainty."""
    if share > 0.99:
        return "over 99 %"
    return "under 1 %" if share < 0.01 else f"{100 * share:.0f} %"


def _bars(run: Run, behaviours: Behaviours, finding: Finding) -> dict[str, Any]:
    """By how much each station's print moves by the finding, signed like its term."""
    mine = [b for b in behaviours.stations if b.channel == finding.channel]
    found = {b.station: _like(b, finding.term) for b in mine}
    return {
        "channel": finding.channel,
        "kind": KINDS.get(finding.kind, finding.kind),
        "sides": SIDES[finding.channel],
        "stations": [
            {
                "station": station.number,
                "ink": station.ink,
                "reference": station.ink == run.job.reference,
                "known": station.number in found,
                "mm": _signed_mm(found.get(station.number)),
            }
            for station in run.job.press.stations
        ],
    }


def _like(behaviour: Behaviour, term: Term) -> Term | None:
    """The station's own term that the finding's describes: of its kind, at its place."""
    same = [one for one in behaviour.terms if one.kind == term.kind]
    return min(same, key=lambda one: _apart(one, term), default=None)


def _apart(one: Term, other: Term) -> float:
    """How differently two terms of one kind are placed; of several alike, the sign decides."""
    theirs = {setting.name: setting.estimate.value for setting in other.settings}
    apart = sum(
        abs(s.estimate.value - theirs[s.name]) / (abs(theirs[s.name]) or 1.0)
        for s in one.settings
        if s.name in theirs
    )
    return apart + 0.001 * (one.size.value * other.size.value < 0)


def _signed_mm(term: Term | None) -> float:
    if term is None:
        return 0.0
    return -term.moves_mm if term.size.value < 0 else term.moves_mm


def _shown(run: Run, behaviours: Behaviours, findings: list[Finding]) -> dict[str, Any]:
    """Which curve of the run shows the movement best: its place in `measured_tracks`, or None."""
    for finding in findings:
        for number in (finding.station, *finding.stations):
            for k, track in enumerate(measured_tracks(run)):
                if track.station == number and _seen(track, behaviours, finding):
                    return {"curve": k, "over_speed": finding.kind in OVER_SPEED}
    return {"curve": None, "over_speed": False}


def _seen(track: Track, behaviours: Behaviours, finding: Finding) -> bool:
    edges = behaviours.edges or ("",)
    seen_by = track.camera == behaviours.camera and track.edge in edges
    return seen_by and track.axis == finding.channel
