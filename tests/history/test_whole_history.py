"""From a simulated press to the station to look at: simulate, ramp, history, all by command.

The truth is the press simulator's, which shares no code with what measures, models or ranks.
"""

import json

import pytest
from typer.testing import CliRunner

from regscan.cli.app import app

RUNS = 8  # with fewer, no order of them is rare enough for forty questions


def told(*words):
    done = CliRunner().invoke(app, [str(word) for word in words])
    assert done.exit_code == 0, done.output
    return done.output


def health(tmp_path, fault):
    """A run each month, with the fault that `fault` gives for it."""
    file = tmp_path / "history.sqlite"
    for month in range(RUNS):
        drawn, out = tmp_path / f"drawn {month}", tmp_path / f"out {month}"
        asked = ["--scenario", "ramp", "--table", "--seed", month + 1, "--fault", fault(month)]
        told("simulate", *asked, "--out", drawn)
        told("ramp", "--offsets", drawn / "offsets.csv", "--job", drawn / "job.toml", "--out", out)
        run = json.loads((out / "run.json").read_text())
        run["inputs"]["made_at"] = f"2026-{month + 1:02d}-10T08:00:00+01:00"
        (out / "run.json").write_text(json.dumps(run))
        told("history", "add", out, "--history", file)
    return json.loads(told("history", "health", "--json", "--history", file))


def test_a_gear_that_wears_is_named_first_with_its_play(tmp_path):
    """Play of station 3's plate gear from 20 to 90 um, at every ramp of a run."""
    found = health(tmp_path, lambda month: f"backlash station=3 size_mm={0.02 + 0.01 * month:.2f}")
    (look,) = found["looks"]
    assert look["station"] == 3
    (trend,) = [
        t
        for t in found["trends"]
        if (t["station"], t["axis"], t["measure"]) == (3, "circumferential", "play")
    ]
    assert trend["was"] == pytest.approx(0.02, abs=0.004)
    assert trend["now"] == pytest.approx(0.09, abs=0.004)
    assert trend["low"] <= 0.07 / 7 <= trend["high"]
    assert "gear mesh" in look["reasons"][0]["check"]


def test_a_gear_with_play_that_stays_as_it_is_names_nobody(tmp_path):
    found = health(tmp_path, lambda month: "backlash station=3 size_mm=0.06")
    assert found["looks"] == []
    play = [t for t in found["trends"] if (t["station"], t["measure"]) == (3, "play")]
    assert [t["now"] for t in play if t["axis"] == "circumferential"] == [
        pytest.approx(0.06, abs=0.004)
    ]
