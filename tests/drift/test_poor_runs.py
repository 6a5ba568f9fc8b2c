"""Cost, monitor, protocol and comparison on runs that have hardly anything: answers, no crash."""

import json
from dataclasses import asdict

import numpy as np
import pytest

from drift.presses import JOB, TWO_CAMERAS, Made, make_table
from regscan.drift.accepting.ask import ask_protocol
from regscan.drift.accepting.compare import Ran, compare_runs
from regscan.drift.costing.find import find_cost
from regscan.drift.describe import describe_run
from regscan.drift.frames import list_frames
from regscan.drift.monitor.replay import replay


def first_frames(table, count):
    return table[np.isin(table["frame"], np.unique(table["frame"])[:count])]


def without(table, *columns):
    for column in columns:
        table[column] = np.nan
    return table


def half_missing(table):
    lost = np.random.default_rng(1).random(len(table)) < 0.5
    table["status"][lost] = "missing"
    for column in ("circumferential_mm", "lateral_mm"):
        table[column][lost] = np.nan
    return table


def all_missing(table):
    table["status"] = "missing"
    return without(table, "circumferential_mm", "lateral_mm")


def some_web_unknown(table):
    table["web_m"][::7] = np.nan
    return table


def standing(table):
    table["speed_m_min"] = 0.0
    table["web_m"] = 1.0
    return table


def strange_camera(table):
    table["camera"] = "unheard of"
    return table


POOR = {
    "one frame": lambda t: first_frames(t, 1),
    "two frames": lambda t: first_frames(t, 2),
    "nine frames": lambda t: first_frames(t, 9),
    "no speed": lambda t: without(t, "speed_m_min"),
    "no clock": lambda t: without(t, "time_s", "speed_m_min", "web_m"),
    "no doubts": lambda t: without(t, "circumferential_sd_mm", "lateral_sd_mm"),
    "half missing": half_missing,
    "all missing": all_missing,
    "gaps in the web": some_web_unknown,
    "standing": standing,
    "strange camera": strange_camera,
    "constant": lambda t: _constant(t),
}


def _constant(table):
    table["circumferential_mm"] = table["lateral_mm"] = 0.25
    return table


@pytest.mark.parametrize("name", POOR)
def test_poor_runs_are_answered(name):
    table = POOR[name](make_table(Made(), 1))
    drift = describe_run(table, JOB)
    cost = find_cost(table, JOB, drift, {})
    alerts = replay(table, list_frames(table, None), JOB)
    check = ask_protocol(drift, JOB.acceptance)
    whole = make_table(Made(), 2)
    both = compare_runs(Ran(drift, JOB), Ran(describe_run(whole, JOB), JOB))
    assert not check.kept
    assert both.sentences
    assert all(what.unknown or what.metres_outside is not None for what in cost.what_ifs) or (
        cost.metres_outside is None
    )
    for record in (cost, check, both, *alerts):  # nothing in them that JSON has no word for
        json.dumps(asdict(record), allow_nan=False)


def test_a_camera_of_another_press_is_no_trouble():
    table = strange_camera(make_table(Made(), 1))
    drift = describe_run(table, TWO_CAMERAS)
    assert find_cost(table, TWO_CAMERAS, drift, {}).frames_total > 0
    assert replay(table, list_frames(table, None), TWO_CAMERAS) == ()
