"""What a run cost, against the truth of the simulator's press."""

import csv
from itertools import pairwise

import numpy as np
import pytest

from drift.pressed import pressed_table
from drift.presses import JOB, TWO_CAMERAS, Made, make_table, track_of
from regscan.drift.costing.find import find_cost
from regscan.drift.costing.table import COLUMNS, write_cuts
from regscan.drift.describe import describe_run
from regscan.simulator.speed import SpeedProfile, ramps

TOLERANCE_MM = 0.1


def cost_of(table, moves=None, job=JOB):
    return find_cost(table, job, describe_run(table, job), moves or {})


def outside_m(true_mm, web):
    """Metres that the truth has outside, each frame standing for its pitch."""
    return float((np.abs(true_mm) > TOLERANCE_MM).sum() * np.diff(web).mean())


def station(number):
    return number - 1


LATE = "servo-delay station=2 delay_us=80"  # 200 um late at 150, 67 at 50 m/min
ASIDE = "plate-slip station=4 at_m=200 size_mm=0 lateral_mm=0.15"


@pytest.fixture(scope="module")
def run():
    return pressed_table(1, LATE, ASIDE)


def test_metres_and_frames_outside_are_those_of_the_truth(run):
    table, true, web = run
    cost = cost_of(table)
    late = true["circumferential"][station(2)]
    aside = true["lateral"][station(4)]
    by = {one.station: one for one in cost.stations}
    pitch = np.diff(web).mean()
    assert by[2].metres_outside == pytest.approx(outside_m(late, web), abs=4 * pitch)
    assert by[4].metres_outside == pytest.approx(outside_m(aside, web), abs=4 * pitch)
    either = (np.abs(late) > TOLERANCE_MM) | (np.abs(aside) > TOLERANCE_MM)
    assert cost.metres_outside == pytest.approx(either.sum() * pitch, abs=6 * pitch)
    assert cost.frames_outside == pytest.approx(either.sum(), abs=6)
    assert by[1].metres_outside == by[3].metres_outside == 0.0
    assert cost.frames_total == len(web)


def test_the_job_is_cut_once_where_stations_overlap(run):
    cost = cost_of(run[0])
    assert len(cost.job_cuts) < len(cost.cuts)
    ends = [(cut.from_m, cut.to_m) for cut in cost.job_cuts]
    assert all(one[1] < other[0] for one, other in pairwise(ends))
    assert sum(cut.metres for cut in cost.job_cuts) == pytest.approx(cost.metres_outside)
    assert any(cut.stations == (2, 4) for cut in cost.job_cuts)
    worst = max(cost.job_cuts, key=lambda cut: abs(cut.worst_mm))
    assert (worst.station, worst.axis) == (2, "circumferential")


def test_cuts_csv_lists_the_job_and_each_station(run, tmp_path):
    cost = cost_of(run[0])
    write_cuts(tmp_path / "cuts.csv", cost)
    text = (tmp_path / "cuts.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    assert tuple(rows[0]) == COLUMNS
    assert [row["list"] for row in rows].count("job") == len(cost.job_cuts)
    assert [row["list"] for row in rows].count("station") == len(cost.cuts)
    first = cost.job_cuts[0]
    assert float(rows[0]["from_m"]) == pytest.approx(first.from_m, abs=1e-3)
    assert rows[0]["words"].startswith("at worst 0.2")


def test_with_the_moves_made_the_waste_is_that_of_the_moved_truth(run):
    table, true, web = run
    move = -0.15
    moved = next(
        w
        for w in cost_of(table, {("cyan", "circumferential"): move}).what_ifs
        if w.name == "advised moves"
    )
    late = true["circumferential"][station(2)] + move
    aside = true["lateral"][station(4)]
    either = (np.abs(late) > TOLERANCE_MM) | (np.abs(aside) > TOLERANCE_MM)
    pitch = np.diff(web).mean()
    assert moved.metres_outside == pytest.approx(either.sum() * pitch, abs=6 * pitch)
    assert moved.unknown == ""
    still = next(w for w in cost_of(table).what_ifs if w.name == "advised moves")
    assert still.metres_outside == cost_of(table).metres_outside
    assert "no move is advised" in still.assumption


def profile(*ramp_seconds):
    """Holds of 60 s, 150 and 50 m/min by turns, ramps of these times between them."""
    at, speeds = [0.0, 60.0], [150.0, 150.0]
    for took in ramp_seconds:
        speed = 200.0 - speeds[-1]
        at += [at[-1] + took, at[-1] + took + 60.0]
        speeds += [speed, speed]
    return SpeedProfile(tuple(at), tuple(speeds))


def slower(table):
    return next(w for w in cost_of(table).what_ifs if w.name == "slower ramps")


# 70 um per m/s2 of wind-up and more are far beyond a press: so that ramps alone waste web.
INERTIA = "servo-delay station=2 delay_us=0 loop_mm_per_m_s2=1.6"


def test_slower_ramps_are_foretold_where_the_rate_matters():
    """Against the very press run with its ramps at half their rate."""
    steep = pressed_table(1, INERTIA, speed=profile(20, 20, 10, 10), pitch_m=0.6096)[0]
    gentle = pressed_table(2, INERTIA, speed=profile(40, 40, 20, 20), pitch_m=0.6096)
    foretold = slower(steep)
    assert foretold.unknown == ""
    true = outside_m(gentle[1]["circumferential"][station(2)], gentle[2])
    was = cost_of(steep).metres_outside
    assert foretold.metres_outside == pytest.approx(true, abs=0.15 * was)
    assert true < 0.8 * was


def test_slower_ramps_waste_more_where_only_speed_matters():
    """Out of tolerance above some speed: the longer between the speeds, the more web."""
    steep = pressed_table(1, LATE, speed=profile(20, 20))[0]
    gentle = pressed_table(2, LATE, speed=profile(40, 40))
    foretold = slower(steep)
    true = outside_m(gentle[1]["circumferential"][station(2)], gentle[2])
    assert foretold.metres_outside == pytest.approx(true, rel=0.05)
    assert true > cost_of(steep).metres_outside


def test_one_rate_does_not_tell_what_another_would_do():
    table = pressed_table(1, INERTIA, speed=ramps(150.0, 50.0, hold_s=60.0, ramp_s=10.0, times=1))
    found = slower(table[0])
    assert found.metres_outside is None
    assert "one rate" in found.unknown


@pytest.mark.parametrize("lost", ["web_m", "speed_m_min"])
def test_what_is_not_known_is_said(lost):
    table = pressed_table(1, LATE)[0]
    table[lost] = np.nan
    if lost == "web_m":
        table["time_s"] = np.nan
    cost = cost_of(table)
    found = next(w for w in cost.what_ifs if w.name == "slower ramps")
    assert found.metres_outside is None
    assert found.unknown
    assert cost.frames_outside > 100
    if lost == "web_m":
        assert cost.metres_outside is None
        assert cost.job_cuts[0].from_m is None
        assert cost.job_cuts[0].from_frame


def test_a_calm_run_cost_nothing():
    cost = cost_of(make_table(Made(), 1))
    assert (cost.metres_outside, cost.frames_outside, cost.cuts) == (0.0, 0, ())


def test_cameras_are_brought_to_the_last_one():
    late = {"cyan": lambda s: (np.where((s > 50) & (s < 80), 0.2, 0.0), 0 * s)}
    middle = make_table(Made(truth=late, camera="middle"), 1)
    end = make_table(Made(camera="end"), 2)
    cost = cost_of(np.concatenate([middle, end]), job=TWO_CAMERAS)
    drift = describe_run(np.concatenate([middle, end]), TWO_CAMERAS)
    (own,) = track_of(drift, "cyan", camera="middle").stretches
    (cut,) = cost.job_cuts
    assert cut.camera == "middle"
    assert cut.from_m == pytest.approx(own.from_m + 1.5)  # middle at 0.5, end at 2.0 m


def test_settling_is_the_web_until_the_print_stays():
    """A strain that passes: 5 % of it are left three spans after the last of it was printed."""
    truth = {"cyan": lambda s: (np.where(s < 140, 0.0, 0.08 * np.exp(-(s - 140) / 20.0)), 0 * s)}
    cost = cost_of(make_table(Made(truth=truth, pitch_m=0.5, noise_mm=0.003), 1))
    mine = {
        one.segment: one
        for one in cost.settling
        if (one.ink, one.axis) == ("cyan", "circumferential")
    }
    # 20 m/min from 140 s on: 0.08 falls to the band of 0.01 mm in 20 s x ln 8, at 1/3 m/s.
    assert mine[3].metres == pytest.approx(20.0 * np.log(8.0) / 3.0, abs=3.0)
    others = [one.metres for one in cost.settling if one.ink == "yellow" and one.metres is not None]
    assert max(others) < 3.0
