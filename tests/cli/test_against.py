"""regscan ramp: cost, warnings, the acceptance protocol, and --against an earlier run."""

import csv
import json

import pytest
from drift.presses import Made, make_job, make_table
from drift.profiles import Profile
from typer.testing import CliRunner

from regscan.cli.app import app
from regscan.offsets.columns import OFFSET_COLUMNS
from regscan.offsets.table import write_table
from regscan.simulator.job_text import job_toml

STEADY = Profile((0.0, 1200.0), (120.0, 120.0))
FAULT = "servo-delay station=2 delay_us=60"  # 0.1 mm between 50 and 150 m/min


def call(*arguments):
    return CliRunner().invoke(app, [str(part) for part in arguments])


def simulate(folder, seed, *more):
    arguments = ["--table", "--frames", 400, "--seed", seed, "--out", folder, *more]
    assert call("simulate", *arguments).exit_code == 0


@pytest.fixture(scope="module")
def runs(tmp_path_factory):
    """simulated: with a late drive; out: its results, on which nothing may be written."""
    base = tmp_path_factory.mktemp("against")
    simulate(base / "faulty", 3, "--fault", FAULT)
    done = call("ramp", "--offsets", base / "faulty" / "offsets.csv", "--out", base / "out")
    assert done.exit_code == 0, done.output
    (base / "said.txt").write_text(done.output, encoding="utf-8")
    return base


def against(runs, tmp_path, before, *more):
    offsets = runs / "faulty" / "offsets.csv"
    arguments = ["--offsets", offsets, "--out", tmp_path / "new", "--against", before, *more]
    return call("ramp", *arguments)


def test_a_run_says_what_it_cost_and_where_to_cut(runs):
    said = (runs / "said.txt").read_text(encoding="utf-8")
    for words in ("Web outside tolerance", "To cut out", "With the advised moves:"):
        assert words in said
    cost = json.loads((runs / "out" / "run.json").read_text())["drift"]["cost"]
    rows = list(csv.DictReader((runs / "out" / "cuts.csv").read_text().splitlines()))
    job = [row for row in rows if row["list"] == "job"]
    assert len(job) == len(cost["job_cuts"]) > 0
    metres = sum(float(row["metres"]) for row in job)
    assert metres == pytest.approx(cost["metres_outside"], abs=0.01)


def test_a_run_says_what_its_acceptance_protocol_misses(runs):
    said = (runs / "said.txt").read_text(encoding="utf-8")
    assert "common practice, no source" in said
    assert "not complete" in said
    check = json.loads((runs / "out" / "run.json").read_text())["drift"]["acceptance"]
    missing = {item["what"] for item in check["items"] if item["missing"]}
    assert missing == {"holds", "ramp rates"}  # a minute each, and all ramps alike


def test_a_run_against_itself_has_not_changed(runs, tmp_path):
    done = against(runs, tmp_path, runs / "out")
    assert done.exit_code == 0
    assert "Nothing has changed beyond doubt" in done.output
    kept = json.loads((tmp_path / "new" / "comparison.json").read_text())
    assert (kept["format"], kept["stations"]) == (1, [])
    assert kept["before"].endswith("run.json")
    # A later run without it leaves no comparison of another run behind.
    call("ramp", "--offsets", runs / "faulty" / "offsets.csv", "--out", tmp_path / "new")
    assert not (tmp_path / "new" / "comparison.json").exists()
    assert (tmp_path / "new" / "cuts.csv").exists()


def test_a_late_drive_is_told_against_a_good_press(runs, tmp_path):
    simulate(tmp_path / "good", 3, "--fault", "servo-delay station=2 delay_us=0")
    done = call("ramp", "--offsets", tmp_path / "good" / "offsets.csv", "--out", tmp_path / "a")
    assert done.exit_code == 0
    done = against(runs, tmp_path, tmp_path / "a" / "run.json", "--json")
    document = json.loads(done.stdout)
    assert document["comparison"]["stations"] == [2]
    assert any("Station 2" in words for words in document["comparison"]["sentences"])


def change(document, path, value):
    *steps, last = path
    for step in steps:
        document = document[step]
    document[last] = value


SPOILT = [
    (("job", "reference"), "cyan", "job.reference", "share their reference colour"),
    (("job", "zero"), "approved", "job.zero", "one job file"),
    (("kind",), "measure", "kind", "what regscan ramp wrote"),
    (("format",), 99, "format", "99"),
    (("drift", "tracks"), [], "drift.tracks", "shows its marks"),
]


@pytest.mark.parametrize(("path", "value", "place", "cure"), SPOILT)
def test_what_cannot_be_compared_is_refused_before_any_work(
    runs, tmp_path, path, value, place, cure
):
    document = json.loads((runs / "out" / "run.json").read_text())
    change(document, path, value)
    (tmp_path / "run.json").write_text(json.dumps(document))
    done = against(runs, tmp_path, tmp_path)
    assert done.exit_code == 3
    said = " ".join(done.output.split())
    assert place in said
    assert cure in said
    assert not (tmp_path / "new").exists()


def test_a_press_with_other_inks_is_refused(runs, tmp_path):
    document = json.loads((runs / "out" / "run.json").read_text())
    stations = document["job"]["press"]["stations"]
    inks = [station["ink"] for station in stations]
    for station, ink in zip(stations, inks[1:] + inks[:1], strict=True):
        station["ink"] = ink
    (tmp_path / "run.json").write_text(json.dumps(document))
    done = against(runs, tmp_path, tmp_path / "run.json")
    assert done.exit_code == 3
    assert "the same inks in the same stations" in " ".join(done.output.split())


def test_a_folder_that_is_no_run_is_refused(runs, tmp_path):
    done = against(runs, tmp_path, tmp_path / "nowhere")
    assert done.exit_code == 3
    assert "cannot be read" in " ".join(done.output.split())


def test_a_job_of_the_reference_alone_is_told_so(tmp_path):
    job = make_job(inks=("black",))
    (tmp_path / "job.toml").write_text(job_toml(job))
    table = make_table(Made(STEADY), 1, inks=("black",))
    write_table(tmp_path / "offsets.csv", table, OFFSET_COLUMNS)
    ran = ["ramp", "--offsets", tmp_path / "offsets.csv", "--job", tmp_path / "job.toml"]
    first = call(*ran, "--out", tmp_path / "one")
    assert first.exit_code == 0, first.output
    again = [*ran, "--out", tmp_path / "two", "--against", tmp_path / "one"]
    for asked in (again, ["correct", tmp_path / "one"]):
        done = call(*asked)
        assert done.exit_code == 3
        assert "the reference black" in " ".join(done.output.split())
