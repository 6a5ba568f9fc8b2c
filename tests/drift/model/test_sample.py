"""The sample ramp, stations 3 and 5 misbehaving, from its table alone: kept in run.json, said."""

from pathlib import Path

import numpy as np
import pytest

from regscan.cli.why import why_lines
from regscan.job.read import read_job
from regscan.offsets.table import read_offsets
from regscan.pipeline import Task, decide, inputs_of_table
from regscan.recording.speedlog import read_speed_log
from regscan.run import load_run, save_run

RAMP = Path(__file__).parents[3] / "sample_images" / "ramp"


@pytest.fixture(scope="module")
def run():
    table = read_offsets(RAMP / "truth.csv")
    # One micrometre of measuring noise; the reference has none against itself.
    rng = np.random.default_rng(1)
    for column in ("circumferential_mm", "lateral_mm"):
        table[column] += rng.normal(0, 0.001, len(table)) * (table["ink"] != "black")
    log = read_speed_log(RAMP / "speed_log.csv")
    task = Task("ramp", read_job(RAMP / "job.toml"), {}, log)
    return decide(task, table, inputs_of_table(RAMP / "truth.csv", table))


def test_both_stations_are_named_with_what_was_injected(run):
    found = {cause.station: cause for cause in run.drift.causes}
    assert set(found) == {3, 5}
    # truth.toml: green lies 0.131 mm later at 50 than at 150 m/min; cyan jumps aside by 0.135 mm.
    assert found[5].name == "servo-delay"
    assert found[5].moves_mm == pytest.approx(0.131, abs=0.003)
    assert found[3].name == "moved-and-back"
    assert found[3].moves_mm == pytest.approx(0.135, abs=0.003)
    assert "proportional to speed" in found[5].sentence
    assert "goes back at" in found[3].sentence


def test_run_json_carries_them(run, tmp_path):
    save_run(run, tmp_path / "run.json")
    again = load_run(tmp_path / "run.json")
    assert again.drift.causes == run.drift.causes
    assert again.drift.behaviours == run.drift.behaviours


def test_the_screen_says_what_moved_why_and_what_cannot_be_told(run):
    text = "\n".join(why_lines(run))
    for cause in run.drift.causes:
        assert cause.sentence in text
        assert cause.first_check in text
    assert "What this run cannot tell:" in text
    assert "Ramps at two rates would decide" in text
    assert "invisible" in text


def test_play_speed_warm_up_and_noise_are_there_station_by_station(run):
    behaviours = run.drift.behaviours
    green = next(
        b for b in behaviours.stations if (b.ink, b.channel) == ("green", "circumferential")
    )
    assert [term.kind for term in green.terms] == ["speed"]
    assert green.terms[0].size.value == pytest.approx(-0.00131, abs=0.00003)
    assert 0.0 < green.noise_mm < 0.01
