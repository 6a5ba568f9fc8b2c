"""A run held against a protocol."""

from dataclasses import replace

import numpy as np
import pytest

from drift.pressed import pressed_table
from drift.presses import JOB
from regscan.drift.accepting.ask import ask_protocol
from regscan.drift.describe import describe_run
from regscan.job.rules import AcceptanceRules
from regscan.simulator.speed import SpeedProfile, ramps

ASKED = AcceptanceRules(
    name="short", hold_s=55.0, rates_m_s2=(0.0833,), frames_in_hold=30, frames_in_ramp=10
)


def check_of(rules=ASKED, **more):
    drift = describe_run(pressed_table(1, **more)[0], JOB)
    return ask_protocol(drift, rules)


def item(check, what):
    (found,) = [one for one in check.items if one.what == what]
    return found


def test_a_whole_run_is_complete():
    check = check_of()  # twice 150 to 50 and back, holds of 60 s, 100 m/min in 20 s
    assert check.kept, check.missing
    assert check.name == "short"


def test_once_is_not_twice():
    check = check_of(speed=ramps(150.0, 50.0, hold_s=60.0, ramp_s=20.0, times=1))
    assert not item(check, "rounds").kept
    assert check.missing == ("run 2 x 150 to 50 m/min and back, holding at each speed",)


@pytest.mark.parametrize(
    ("change", "what", "words"),
    [
        ({"hold_s": 90.0}, "holds", "hold each speed for 90 s"),
        ({"rates_m_s2": (0.0833, 0.04)}, "ramp rates", "ramp at 0.04 m/s2 too"),
        ({"frames_in_hold": 500}, "frames in each hold", "at least 500"),
        ({"frames_in_ramp": 100}, "frames in each ramp", "at least 100"),
        ({"fast_m_min": 200.0}, "rounds", "200 to 50"),
    ],
)
def test_each_wish_that_is_not_kept_is_said(change, what, words):
    found = item(check_of(replace(ASKED, **change)), what)
    assert not found.kept
    assert words in found.missing


def test_a_second_rate_may_come_in_another_ramp():
    # 100 m/min down in 20 s, up in 40 s, and again.
    at, speeds = [0.0], [150.0]
    for took, speed in ((60, 150), (20, 50), (60, 50), (40, 150)) * 2 + ((60, 150),):
        at.append(at[-1] + took)
        speeds.append(float(speed))
    rules = replace(ASKED, rates_m_s2=(0.08, 0.04))
    assert check_of(rules, speed=SpeedProfile(tuple(at), tuple(speeds))).kept


def test_without_a_speed_only_that_is_asked_for():
    table = pressed_table(1)[0]
    table["speed_m_min"] = np.nan
    check = ask_protocol(describe_run(table, JOB), ASKED)
    (one,) = check.missing
    assert "speed log" in one
