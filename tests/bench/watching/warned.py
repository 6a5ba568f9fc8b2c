"""Early warnings on runs of the bank, held against the truth without noise."""

from collections import Counter
from dataclasses import dataclass, field, replace

import numpy as np

from regscan.drift.frames import list_frames
from regscan.drift.monitor.replay import replay
from regscan.job.job import AXES, Tolerance
from regscan.simulator.bank import bank_run, plan_of

TOLERANCE_MM = 0.06  # so that enough runs of the bank leave it
# Faults that take a colour out slowly enough to be foreseen.
GRADUAL = ("plate-creep", "lamp-warm-up", "side-lay-drift", "chill-drum", "moisture")
FAR_M = 600.0  # a warning further ahead of an exit than this was of another one


@dataclass
class Warned:
    """What came of the warnings at steady speed (outcomes) and while it changed (ramped).

    leads_m    from each warning to the exit it was of; exits: places where a colour's truth
               left tolerance; foreseen: those with a warning before.
    """

    outcomes: Counter = field(default_factory=Counter)
    ramped: Counter = field(default_factory=Counter)
    leads_m: list = field(default_factory=list)
    exits: int = 0
    foreseen: int = 0
    frames: int = 0


def judge(seeds, faults):
    """All early warnings of the runs of these seeds, faults by turns ("" for none)."""
    found = Warned()
    for number, seed in enumerate(seeds):
        name = faults[number % len(faults)]
        plan = plan_of(seed, (name,) if name else ())
        _judge_run(bank_run(seed, replace(plan, limit="", edges=False, marks=1)), found)
    return found


def summary(found):
    """Numbers for the table; None where there is nothing to tell."""
    was = found.outcomes
    judged = sum(was[one] for one in ("right", "sooner", "later", "never"))
    return {
        "frames": found.frames,
        "exits": found.exits,
        "foreseen": found.foreseen,
        "warnings": sum(was.values()),
        "judged": judged,
        "interval right": was["right"] / judged if judged else None,
        "left sooner": was["sooner"],
        "later": was["later"],
        "never": was["never"],
        "out already": was["out already"],
        "run ends first": was["run ends first"],
        "while speed changes": sum(found.ramped.values()),
        "lead m, middle": float(np.median(found.leads_m)) if found.leads_m else None,
    }


def _judge_run(run, found):
    job = replace(run.job, tolerance=Tolerance(TOLERANCE_MM, TOLERANCE_MM), ink_tolerances={})
    frames = list_frames(run.rows, run.speed_log)
    warnings = [a for a in replay(run.rows, frames, job) if a.kind == "early warning"]
    found.frames += len(frames)
    for ink in dict.fromkeys(run.rows["ink"].tolist()):
        rows = np.flatnonzero(run.rows["ink"] == ink)
        rows = rows[np.argsort(run.rows["web_m"][rows])]
        for axis in AXES:
            out = np.abs(getattr(run.truth, f"{axis}_mm")[rows]) > TOLERANCE_MM
            mine = [a for a in warnings if (a.ink, a.axis) == (ink, axis)]
            _judge_channel(run.rows["web_m"][rows], out, mine, found)


def _judge_channel(web, out, warnings, found):
    leaves = web[1:][out[1:] & ~out[:-1]]
    found.exits += len(leaves)
    for place in leaves:
        found.foreseen += any(0 < place - a.web_m < FAR_M for a in warnings)
    for alert in warnings:
        outcome, lead = _outcome(alert, web, out)
        steady = alert.pace == "steady"
        (found.outcomes if steady else found.ramped)[outcome] += 1
        if steady and lead is not None:
            found.leads_m.append(lead)


def _outcome(alert, web, out):
    k = int(np.searchsorted(web, alert.web_m))
    low, high = alert.forecast.low, alert.forecast.high
    if out[k]:
        return "out already", None
    later = web[k:][out[k:]]
    if not len(later):
        if high is None:  # that it may never leave is in the interval, if the run was long enough
            return "right" if web[-1] - alert.web_m > low else "run ends first", None
        return "run ends first" if web[-1] - alert.web_m < high else "never", None
    lead = float(later[0] - alert.web_m)
    if lead < low:
        return "sooner", lead
    return "right" if high is None or lead <= high else "later", lead
