"""Runs of the bank: whole tables in the contract's columns that agree with their own truth."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from regscan.offsets.columns import OFFSET_COLUMNS
from regscan.offsets.table import read_offsets
from regscan.simulator.bank import bank_run, plan_of
from regscan.simulator.bank.draws import DRAWS
from regscan.simulator.bank.need import NEEDS
from regscan.simulator.press.faults import FAULTS
from regscan.simulator.press.rows import rows_csv

RUN = bank_run(24)  # a plate that slips


def calm(seed=9, **more):
    return bank_run(seed, replace(plan_of(seed, ()), frames=1500, marks=1, limit="", **more))


def of_one(rows, ink, edge=""):
    return (rows["ink"] == ink) & (rows["edge"] == edge) & (rows["status"] == "ok")


def test_rows_have_the_contract_s_columns():
    assert RUN.rows.dtype.names == tuple(column.name for column in OFFSET_COLUMNS)
    for column in OFFSET_COLUMNS:
        assert RUN.rows.dtype[column.name].kind == np.dtype(column.dtype).kind


@pytest.mark.parametrize("seed", [12, 14, 24])
def test_the_table_is_read_back_by_the_reader_of_tables(seed, tmp_path):
    run = bank_run(seed)
    path = tmp_path / "offsets.csv"
    path.write_text(rows_csv(run.rows), encoding="utf-8")
    read = read_offsets(path)
    for name in run.rows.dtype.names:
        if run.rows.dtype[name].kind == "f":
            np.testing.assert_allclose(read[name], run.rows[name], atol=1e-3, equal_nan=True)
        else:
            assert read[name].tolist() == run.rows[name].tolist()


def test_the_same_seed_is_the_same_run():
    again = bank_run(24)
    for name in RUN.rows.dtype.names:
        np.testing.assert_array_equal(again.rows[name], RUN.rows[name])
    assert not np.array_equal(bank_run(25).rows["lateral_mm"][:100], RUN.rows["lateral_mm"][:100])


def test_the_plans_of_many_seeds_are_what_is_asked_of_the_bank():
    plans = [plan_of(seed) for seed in range(260)]
    kinds = Counter(plan.kind for plan in plans)
    assert kinds == {"single": 156, "pair": 52, "none": 52}
    singles = Counter(plan.faults[0] for plan in plans if plan.kind == "single")
    assert set(singles.values()) == {6}
    assert set(singles) == set(NEEDS) == set(DRAWS) == set(FAULTS) - {"trigger-latency"}
    assert {plan.stations for plan in plans} == set(range(6, 11))
    frames = [plan.frames for plan in plans]
    assert 300 <= min(frames) < 350
    assert 2700 < max(frames) <= 3000
    for kind in ("single", "pair", "none"):
        levels = Counter(plan.level for plan in plans if plan.kind == kind)
        assert max(levels.values()) - min(levels.values()) <= 2 * 6


def test_no_two_plans_of_a_pair_are_the_same_fault_or_station():
    for seed in range(6, 60, 10):
        first, second = bank_run(seed).truth.faults
        assert first.fault.name != second.fault.name
        assert not set(first.stations) & set(second.stations) - {0}


@pytest.mark.parametrize("seed", [9, 24, 16, 35, 40])
def test_truth_and_parts_lie_along_the_rows_and_add_up(seed):
    run = bank_run(seed)
    truth = run.truth
    assert len(truth.circumferential_mm) == len(truth.lateral_mm) == len(run.rows)
    for axis, values in enumerate((truth.circumferential_mm, truth.lateral_mm)):
        setup = np.array([truth.setup_mm[k][axis] for k in run.rows["station"].tolist()])
        parts = [(f.circumferential_mm, f.lateral_mm)[axis] for f in truth.faults]
        np.testing.assert_allclose(values, setup + np.sum([0.0 * setup, *parts], axis=0))
    reference = run.rows["ink"] == run.job.reference
    assert np.all(truth.circumferential_mm[reference] == 0.0)
    seen = reference & (run.rows["status"] != "missing")
    assert np.all(run.rows["circumferential_mm"][seen] == 0.0)


@pytest.mark.parametrize("level", ["low", "middle", "high"])
def test_noise_is_as_large_as_it_says(level):
    run = calm(level=level)
    noise = run.truth.noise
    for station in run.job.press.stations:
        if station.ink == run.job.reference:
            continue
        mine = of_one(run.rows, station.ink)
        left = run.rows["circumferential_mm"] - run.truth.circumferential_mm
        # Mark and reference scatter alike.
        expected = np.sqrt(2.0) * noise.sd_um / 1000.0
        assert left[mine].std() == pytest.approx(expected, rel=0.15)
        across = (run.rows["lateral_mm"] - run.truth.lateral_mm)[mine]
        assert across.std() == pytest.approx(run.truth.lateral_share * expected, rel=0.15)


def test_noise_has_the_memory_it_says():
    from regscan.simulator.press.noise import Noise, scatter

    rng = np.random.default_rng(3)
    # Uneven steps of web, as missing frames make them: exp(-d/memory) whatever the step.
    web = np.cumsum(rng.choice([0.5, 1.0, 2.5], 4000))
    values = scatter(Noise(0.0, 1.0, 4.0, 0.0), web, 30, rng)
    for step in (0.5, 1.0, 2.5):
        pairs = np.flatnonzero(np.isclose(np.diff(web), step))
        product = (values[:, pairs] * values[:, pairs + 1]).mean()
        assert product == pytest.approx(np.exp(-step / 4.0), abs=0.03)
    assert values.std() == pytest.approx(1.0, abs=0.03)


def test_claimed_doubt_is_that_of_measuring_alone():
    run = calm(level="middle")
    mine = of_one(
        run.rows, next(s.ink for s in run.job.press.stations if s.ink != run.job.reference)
    )
    sd = run.rows["circumferential_sd_mm"][mine]
    assert sd == pytest.approx(np.sqrt(2.0) * run.truth.noise.measure_um / 1000.0)
    reference = of_one(run.rows, run.job.reference)
    assert np.all(run.rows["circumferential_sd_mm"][reference] == 0.0)


def test_frames_come_on_triggers_and_carry_the_clock():
    run = calm()
    mine = run.rows[run.rows["ink"] == run.job.reference]
    repeats = mine["web_m"] / run.truth.machine.repeat_m
    np.testing.assert_allclose(repeats, np.round(repeats), atol=1e-6)
    np.testing.assert_allclose(run.truth.profile.web_at(mine["time_s"]), mine["web_m"], atol=1e-3)
    speed = run.truth.profile.speed_at(mine["time_s"])
    np.testing.assert_allclose(mine["speed_m_min"], speed, atol=3.0)
    assert np.all(np.diff(run.rows["time_s"]) >= 0.0)


def test_marks_round_the_repeat_are_frames_of_their_own():
    run = bank_run(3)  # a plate cylinder that is not round
    mine = run.rows[run.rows["ink"] == run.job.reference]
    place = np.mod(mine["web_m"] + 1e-6, run.truth.machine.repeat_m) - 1e-6
    shown = sorted(set(np.round(place, 4).tolist()))
    assert shown == pytest.approx(sorted(run.truth.marks_round_m), abs=1e-3)
    assert len(shown) == 4


@pytest.mark.parametrize(
    "limit",
    ["web metres from the log", "log clock shifted", "gap in the log", "no speed log"],
)
def test_logs_have_the_flaws_they_should(limit):
    run = bank_run(24, replace(plan_of(24), limit=limit))
    truth, log, profile = run.truth, run.speed_log, run.truth.profile
    if limit == "no speed log":
        assert log is None
        assert np.isnan(run.rows["speed_m_min"]).all()
        return
    true = profile.speed_at(log.time_s - truth.clock_shift_s)
    assert np.abs(log.speed_m_min - true).max() < 3.0
    if limit == "log clock shifted":
        assert 2.0 <= abs(truth.clock_shift_s) <= 12.0
        assert np.abs(log.speed_m_min - profile.speed_at(log.time_s)).max() > 3.0
    if limit == "gap in the log":
        (gap,) = log.gaps
        assert gap == pytest.approx(truth.log_gaps_s[0], abs=2.1)
        inside = (run.rows["time_s"] > gap[0]) & (run.rows["time_s"] < gap[1])
        assert inside.any()
        assert np.isnan(run.rows["speed_m_min"][inside]).all()
    if limit == "web metres from the log":
        assert truth.web_from == "log"
        shift = run.rows["web_m"] - profile.web_at(run.rows["time_s"])
        assert 0.0 < np.ptp(shift) < 5.0


def test_half_the_frames_may_be_missing():
    run = bank_run(24, replace(plan_of(24), limit="half the frames missing"))
    share = len(np.unique(run.rows["frame"])) / run.truth.plan.frames
    assert 0.4 < share < 0.6


def test_marks_are_lost_about_a_splice():
    run = bank_run(35)
    (fault,) = run.truth.faults
    press = run.job.press
    here = fault.fault.at_m + press.path_to_camera_m(1)
    about = np.abs(run.rows["web_m"] - here) < 0.5
    missing = run.rows["status"] == "missing"
    assert missing[about].mean() > 0.3
    assert missing[~about].mean() < 0.02
    assert np.isnan(run.rows["circumferential_mm"][missing]).all()


@pytest.mark.parametrize("name", NEEDS)
def test_every_fault_stands_out_of_the_noise_and_stays_on_the_web(name):
    run = bank_run(50, replace(plan_of(50, (name,)), frames=600, level="high"))
    (fault,) = run.truth.faults
    assert fault.fault.name == name
    assert fault.largest_mm <= 0.3 + 1e-9
    assert fault.clarity >= 24.9 or fault.largest_mm == pytest.approx(0.3)
    assert fault.terms
    moved = {
        int(k)
        for k in np.unique(run.rows["station"])
        if np.ptp(fault.circumferential_mm[run.rows["station"] == k]) > 0.003
        or np.ptp(fault.lateral_mm[run.rows["station"] == k]) > 0.003
    }
    assert moved <= {term.station for term in fault.terms}


@pytest.mark.parametrize(
    ("name", "kind"),
    [("servo-delay", "speed"), ("idler-drag", "speed"), ("flash-timing", "speed at the frame")],
)
def test_terms_agree_with_the_parts_where_the_speed_holds(name, kind):
    run = bank_run(31, replace(plan_of(31, (name,)), frames=600, limit="", edges=False))
    (fault,) = run.truth.faults
    profile, rows = run.truth.profile, run.rows
    for term in [t for t in fault.terms if (t.kind, t.channel) == (kind, "circumferential")]:
        mine = rows["station"] == term.station
        # Speed 25 m of web ago is the same: everything is settled.
        time = profile.time_at(rows["web_m"][mine])
        before = profile.time_at(rows["web_m"][mine] - 25.0)
        held = np.isclose(profile.speed_at(time), profile.speed_at(before))
        speed, values = profile.speed_at(time)[held], fault.circumferential_mm[mine][held]
        slope = np.polyfit(speed, values, 1)[0]
        assert slope == pytest.approx(term.size_mm, rel=0.02)


def test_two_edges_differ_by_skew():
    run = bank_run(31)  # a cocked cylinder
    (fault,) = run.truth.faults
    (term,) = [t for t in fault.terms if t.station == fault.stations[0]][:1]
    drive = (run.rows["station"] == term.station) & (run.rows["edge"] == "drive")
    operator = (run.rows["station"] == term.station) & (run.rows["edge"] == "operator")
    skew = fault.circumferential_mm[drive].mean() - fault.circumferential_mm[operator].mean()
    assert skew == pytest.approx(term.size_mm)
    assert term.channel == "skew"


def test_a_fault_that_one_speed_cannot_show_is_not_blown_up():
    run = bank_run(60, replace(plan_of(60, ("servo-delay",)), limit="one speed"))
    (fault,) = run.truth.faults
    assert fault.clarity < 0.1
    assert 15.0 <= abs(fault.fault.delay_us) <= 60.0
