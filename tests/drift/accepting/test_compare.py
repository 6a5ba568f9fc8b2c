"""Two runs compared: what was repaired is named, and nothing else."""

from dataclasses import replace

import numpy as np
import pytest

from drift.pressed import pressed_table
from drift.presses import INKS, JOB, Made, make_table
from regscan.drift.accepting.compare import FAMILY, Ran, compare_runs
from regscan.drift.describe import describe_run


def ran_of(table, job=JOB):
    return Ran(describe_run(table, job), job)


def calm(seed, wander=0.5):
    return ran_of(make_table(Made(wander=wander), seed))


@pytest.fixture(scope="module")
def good():
    return ran_of(pressed_table(1)[0])


def test_a_run_against_itself_has_not_changed(good):
    found = compare_runs(good, good)
    assert found.stations == ()
    assert len(found.compared) > 50
    assert all(one.now == one.before for one in found.compared)
    assert found.sentences == (
        f"Nothing has changed beyond doubt ({len(found.compared)} comparisons).",
    )


REPAIRS = {
    # What the press had before, and what of the comparison must tell it.
    "servo-delay station=2 delay_us=30": "change with speed",  # 30 us are 50 um at 100 m/min more
    "backlash station=3 size_mm=0.06": "worst excursion",
    "plate-slip station=4 at_m=300 size_mm=0.08": "setting",
}


@pytest.mark.parametrize("fault", REPAIRS)
def test_the_repaired_station_is_named_and_nothing_else(good, fault):
    before = ran_of(pressed_table(2, fault)[0])
    found = compare_runs(good, before)
    station = int(fault.split("station=")[1].split()[0])
    assert found.stations == (station,)
    changed = [one for one in found.compared if one.changed]
    assert {one.axis for one in changed} == {"circumferential"}
    assert REPAIRS[fault] in {one.what for one in changed}
    assert all(f"Station {station} {INKS[station - 1]}" in words for words in found.sentences)


def test_a_change_with_speed_has_the_size_of_the_fault(good):
    before = ran_of(pressed_table(2, "servo-delay station=2 delay_us=30")[0])
    found = compare_runs(good, before)
    down = [
        one
        for one in found.compared
        if (one.station, one.axis, one.what) == (2, "circumferential", "change with speed")
        and one.detail == "150 m/min to 50 m/min"
    ]
    # Late by speed times delay, so 100 m/min x 30 us = 50 um earlier when it slows down.
    for one in down:
        assert one.before == pytest.approx(-0.050, abs=4 * one.sd)
        assert one.now == pytest.approx(0.0, abs=4 * one.sd)


def test_a_noisier_station_is_told_by_its_noise(good):
    table = pressed_table(3)[0]
    mine = table["ink"] == "cyan"
    rng = np.random.default_rng(1)
    table["lateral_mm"][mine] += rng.normal(0.0, 0.008, mine.sum())
    found = compare_runs(ran_of(table), good)
    assert found.stations == (2,)
    assert {one.what for one in found.compared if one.changed} == {"noise"}
    assert "scatters" in found.sentences[0]


@pytest.mark.parametrize("wander", [0.0, 0.6])
def test_unchanged_presses_seldom_show_a_change(wander):
    """Not more often than is said, 5 % of pairs: of 30, more than 5 happen once in 300 times.

    tests/bench/comparing.py counts over many more.
    """
    pairs = 30
    false = sum(
        bool(compare_runs(calm(2 * k, wander), calm(2 * k + 1, wander)).stations)
        for k in range(pairs)
    )
    assert FAMILY == 0.05
    assert false <= 5


def test_other_speeds_leave_less_to_compare():
    slow = ran_of(make_table(Made(), 1))
    table = make_table(Made(), 2)
    table["speed_m_min"] *= 0.5
    found = compare_runs(slow, ran_of(table))
    assert any("no hold of one run" in note for note in found.notes)
    assert found.stations == ()


def test_runs_without_any_speed_are_compared_as_a_whole():
    tables = [make_table(Made(), seed) for seed in (1, 2)]
    for table in tables:
        table["speed_m_min"] = table["time_s"] = np.nan
    tables[1]["circumferential_mm"][tables[1]["ink"] == "cyan"] += 0.02
    found = compare_runs(*(ran_of(table) for table in tables))
    assert found.stations == (2,)
    assert {one.what for one in found.compared if one.changed} == {"setting"}


def test_two_presses_are_compared_station_by_station(good):
    other = replace(JOB, press=replace(JOB.press, name="Press 5"))
    found = compare_runs(good, replace(good, job=other))
    assert any("two presses" in note for note in found.notes)
