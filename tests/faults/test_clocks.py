"""Clocks that jump: back is refused by line, ahead is a gap, and nothing is invented."""

import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from regscan.cli.app import app
from regscan.offsets.table import read_offsets


@pytest.fixture
def run(tiny_run, tmp_path):
    return Path(shutil.copytree(tiny_run, tmp_path / "run"))


def ramp(run):
    out = run.parent / "out"
    return CliRunner().invoke(app, ["ramp", str(run), "--out", str(out), "--no-overlays"]), out


def set_times(run, times, column="time_s"):
    rows = [f"{k:06d}.png,{time}" for k, time in enumerate(times)]
    (run / "frames.csv").write_text("\n".join([f"frame,{column}", *rows]) + "\n")


def set_log(run, rows):
    text = "\n".join(["time_s,speed_m_min", *(f"{time},{speed}" for time, speed in rows)])
    (run / "speed_log.csv").write_text(text + "\n")


@pytest.mark.parametrize("column", ["time_s", "web_m"])
def test_a_clock_of_frames_that_is_set_back(run, column):
    set_times(run, [0, 1, 2, 3600, 3601, 5, 6, 7, 8, 9, 10, 11], column)
    done, out = ramp(run)
    assert done.exit_code == 3
    assert "frames.csv: 1 problem" in done.stderr
    assert f"line 7, {column}: 5 lies before line 6 (3601)" in done.stderr
    assert "-> list the frames of a camera in the order they were taken" in done.stderr
    assert not out.exists()


@pytest.mark.parametrize("time", ["nan", "inf", "1e400", "12:30:00", "1,5"])
def test_times_that_are_none(run, time):
    set_times(run, [time] + [1] * 11)
    done, _ = ramp(run)
    assert done.exit_code == 3
    assert "line 2" in done.stderr
    assert " -> " in done.stderr


def test_a_clock_that_stands_still(run):
    set_times(run, [7.0] * 12)
    done, out = ramp(run)
    assert done.exit_code == 0, done.stderr
    assert set(read_offsets(out / "offsets.csv")["time_s"].tolist()) == {7.0}


def test_a_clock_that_jumps_ahead_by_years(run):
    set_times(run, [*range(6), *(1.7e9 + k for k in range(6))])
    done, _ = ramp(run)
    assert done.exit_code == 0, done.stderr


def test_a_speed_log_that_is_set_back(run):
    set_log(run, [(0, 150), (1, 150), (3600, 150), (2, 150), (3, 150)])
    done, out = ramp(run)
    assert done.exit_code == 3
    assert "speed_log.csv: 1 problem" in done.stderr
    assert "line 5, time_s: 2 s lies before line 4 (3600 s)" in done.stderr
    assert not out.exists()


def test_a_speed_log_that_jumps_ahead_is_a_gap_and_nothing_after_it_is_known(run):
    set_times(run, range(12))
    set_log(run, [(0.1 * k, 150) for k in range(51)] + [(9 + 0.1 * k, 150) for k in range(51)])
    done, out = ramp(run)
    assert done.exit_code == 0, done.stderr
    assert "gaps in the speed log: 5 to 9 s" in " ".join(done.stdout.split())
    table = read_offsets(out / "offsets.csv")
    inside = (table["time_s"] > 5) & (table["time_s"] < 9)
    assert bool((table["speed_m_min"][inside] != table["speed_m_min"][inside]).all())
    after = table["time_s"] > 5
    assert bool((table["web_m"][after] != table["web_m"][after]).all())


def test_a_log_of_another_day_is_refused(run):
    set_log(run, [(1.7e9, 150), (1.7e9 + 60, 150)])
    done, _ = ramp(run)
    assert done.exit_code == 3
    assert "no moment in common -> bring both onto one clock" in done.stderr
