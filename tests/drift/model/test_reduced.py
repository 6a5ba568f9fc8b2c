"""Poor runs: a reduced answer with its reason, and no term that was made up."""

from dataclasses import replace

import numpy as np
import pytest

from regscan.drift.why import explain_run
from regscan.simulator.bank import bank_run, plan_of

SPEED_KINDS = {"speed", "speed above", "acceleration", "two levels", "dose", "speed at the camera"}


def of_bank(seed, fault, **more):
    return bank_run(seed, replace(plan_of(seed, (fault,)), **{"limit": "", "marks": 1, **more}))


def kinds(behaviours):
    return {finding.kind for finding in behaviours.findings}


def said(behaviours, words):
    return any(words in sentence for sentence in (*behaviours.reduced, *behaviours.untold))


def test_too_short_a_run_has_no_term():
    run = of_bank(13, "servo-delay", frames=400)
    frames = sorted(set(run.rows["frame"].tolist()))[:20]
    behaviours, causes = explain_run(run.rows[np.isin(run.rows["frame"], frames)], run.job)
    assert behaviours.findings == ()
    assert causes == ()
    assert said(behaviours, "too short a run: 20 frames")


def test_one_speed_has_no_term_of_speed():
    run = of_bank(13, "plate-slip", frames=400, limit="one speed")
    behaviours, causes = explain_run(run.rows, run.job, run.speed_log)
    assert not kinds(behaviours) & SPEED_KINDS
    assert causes[0].name in ("plate-slip", "impression")
    assert said(behaviours, "one speed only")


def test_without_clock_and_speed_only_frames_are_counted():
    run = of_bank(13, "plate-slip", frames=400)
    rows = run.rows.copy()
    rows["time_s"] = rows["web_m"] = rows["speed_m_min"] = np.nan
    behaviours, causes = explain_run(rows, run.job)
    assert kinds(behaviours) <= {"step", "drift"}
    assert causes[0].station == run.truth.faults[0].stations[0]
    for words in ("no times", "no web positions", "no speed at all"):
        assert said(behaviours, words)


def test_half_the_frames_missing_widens_the_doubt_and_is_said():
    sds = []
    for limit in ("", "half the frames missing"):
        run = of_bank(13, "servo-delay", frames=600, limit=limit)
        behaviours, causes = explain_run(run.rows, run.job, run.speed_log)
        assert [c.name for c in causes] == ["servo-delay"]
        sds.append(behaviours.findings[0].term.size.sd)
        assert said(behaviours, "frames are missing") == bool(limit)
    assert sds[1] > 1.1 * sds[0]


def test_one_ramp_rate_leaves_play_and_inertia_open():
    run = of_bank(0, "backlash", frames=500, limit="one ramp rate")
    behaviours, _ = explain_run(run.rows, run.job, run.speed_log)
    assert said(behaviours, "Ramps at two rates would decide")
    run = of_bank(0, "backlash", frames=500)
    behaviours, _ = explain_run(run.rows, run.job, run.speed_log)
    assert not said(behaviours, "Ramps at two rates would decide")


def test_no_holds_leave_speed_and_drift_open():
    run = of_bank(13, "servo-delay", frames=500, limit="no holds")
    behaviours, _ = explain_run(run.rows, run.job, run.speed_log)
    assert said(behaviours, "No holds")


@pytest.mark.parametrize("edges", [False, True])
def test_one_edge_says_that_skew_is_out_of_reach(edges):
    run = of_bank(13, "plate-slip", frames=350, edges=edges)
    behaviours, _ = explain_run(run.rows, run.job, run.speed_log)
    assert said(behaviours, "one web edge only") != edges
