"""A speed log against the frames' own positions: clock off, gaps, no log at all."""

from dataclasses import replace

import numpy as np
import pytest

from regscan.drift.frames import list_frames
from regscan.drift.model.matched import matched
from regscan.drift.record import speed_record
from regscan.drift.why import explain_run
from regscan.simulator.bank import bank_run, plan_of


def held(seed, limit, frames=700, fault="servo-delay"):
    plan = replace(plan_of(seed, (fault,)), limit=limit, frames=frames)
    run = bank_run(seed, plan)
    frames_ = list_frames(run.rows, run.speed_log)
    return run, matched(frames_, speed_record(frames_, run.speed_log))


def test_a_shifted_clock_is_told_within_its_doubt():
    pulls = []
    for seed in range(8):
        run, found = held(seed, "log clock shifted")
        assert found.shift_s is not None
        off = found.shift_s.value - run.truth.clock_shift_s
        assert abs(off) < 0.4
        pulls.append(off / found.shift_s.sd)
    assert np.sqrt(np.mean(np.square(pulls))) < 1.5


def test_a_right_clock_is_left_alone():
    for seed in range(8):
        _, found = held(seed, "")
        assert found.shift_s is None
        assert found.said == ()


@pytest.mark.parametrize("seed", [24, 4, 25])
def test_one_speed_tells_nothing_of_the_clock(seed):
    _, found = held(seed, "one speed", fault="plate-slip")
    assert found.shift_s is None


def test_gaps_are_filled_from_the_frames_and_said():
    run, found = held(3, "gap in the log")
    assert found.record is not None
    assert found.record.gaps == ()
    ((start, end),) = run.truth.log_gaps_s
    inside = (found.record.at > start) & (found.record.at < end)
    true = run.truth.profile.speed_at(found.record.at[inside])
    np.testing.assert_allclose(found.record.speed_m_min[inside], true, atol=2.0)
    assert "gaps" in found.said[0]


def test_without_a_log_the_frames_tell_the_speed():
    run, found = held(3, "no speed log")
    true = run.truth.profile.speed_at(found.record.at)
    np.testing.assert_allclose(found.record.speed_m_min, true, atol=3.0)
    assert "no speed log" in found.said[0]


@pytest.mark.parametrize("limit", ["log clock shifted", "no speed log"])
def test_the_cause_is_found_in_spite_of_it(limit):
    run, _ = held(3, limit, frames=500)
    behaviours, causes = explain_run(run.rows, run.job, run.speed_log)
    (fault,) = run.truth.faults
    assert [(c.name, c.station) for c in causes] == [("servo-delay", fault.stations[0])]
    assert any("log" in sentence for sentence in behaviours.reduced)
