"""`regscan simulate` with faults: a run's table without pictures, and pictures too."""

import csv
import shlex
import tomllib

import numpy as np
import pytest
from typer import Typer
from typer.testing import CliRunner

from regscan.cli.simulate import simulate
from regscan.offsets.table import read_offsets
from regscan.recording.speedlog import read_speed_log
from regscan.simulator.example import given
from regscan.simulator.press.faults.parse import parse_fault
from regscan.simulator.press.machine import INFEED
from regscan.simulator.scenario import Wish
from regscan.simulator.scenarios import calm, ramp

APP = Typer()
APP.command()(simulate)


def run(*options):
    return CliRunner().invoke(APP, [str(option) for option in options])


BACKLASH = "backlash station=2 size_mm=0.05"
LAMP = "lamp-warm-up station=5 size_mm=0.12 tau_min=2"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("table") / "run"
    faults = ["--fault", BACKLASH, "--fault", LAMP]
    done = run("--table", "--frames", 400, "--seed", 3, *faults, "--out", place)
    assert done.exit_code == 0, done.output
    return place


def test_the_folder_has_what_an_analysis_of_a_table_reads(folder):
    names = {path.name for path in folder.iterdir()}
    assert names == {"offsets.csv", "speed_log.csv", "job.toml", "truth.csv", "truth.toml"}
    assert read_speed_log(folder / "speed_log.csv").covers(200.0)
    table = read_offsets(folder / "offsets.csv")
    assert len(table) == 400 * 6
    assert len(set(table["frame"].tolist())) == 400


def test_the_table_is_the_truth_with_the_noise_of_measuring(folder):
    table = read_offsets(folder / "offsets.csv")
    with (folder / "truth.csv").open(newline="", encoding="utf-8") as file:
        truth = list(csv.DictReader(file))
    for axis in ("circumferential_mm", "lateral_mm"):
        true = np.array([float(row[axis]) for row in truth])
        left = (table[axis] - true)[table["ink"] != "black"]
        # 2 um for the mark and for the reference.
        assert left.std() == pytest.approx(0.002 * np.sqrt(2.0), rel=0.05)
    assert np.all(table["circumferential_mm"][table["ink"] == "black"] == 0.0)


def test_the_table_shows_the_faults(folder):
    table = read_offsets(folder / "offsets.csv")

    def level(station, start, end):
        mine = (table["station"] == station) & (table["time_s"] > start) & (table["time_s"] < end)
        return table["circumferential_mm"][mine].mean()

    # 50 frames a hold, each scattered by 4 um of print and 2 x 2 um of measuring: a difference
    # of two means has an sd of 1 um, of which four are allowed.
    # Fast, slow, fast again; the flank of the last ramp carries through the holds.
    assert level(2, 95, 145) - level(2, 5, 60) == pytest.approx(-0.05, abs=0.004)
    assert level(2, 180, 230) - level(2, 5, 60) == pytest.approx(0.0, abs=0.004)
    warmed = 0.12 * (np.exp(-32.5 / 120.0) - np.exp(-370.0 / 120.0))
    for station in (5, 6):
        change = level(station, 345, 395) - level(station, 5, 60)
        assert change == pytest.approx(warmed, abs=0.004)
    assert level(3, 345, 395) - level(3, 5, 60) == pytest.approx(0.0, abs=0.004)


def test_the_truth_names_the_faults_and_their_terms(folder):
    truth = tomllib.loads((folder / "truth.toml").read_text("utf-8"))
    backlash, lamp = truth["faults"]
    assert (backlash["name"], backlash["pattern"]) == ("backlash", "one")
    assert parse_fault(backlash["words"]) == parse_fault(BACKLASH)
    assert [t["size_mm"] for t in backlash["terms"]] == [-0.05]
    assert [t["station"] for t in lamp["terms"]] == [5, 6]
    # The scenario's own misbehaviour has given way to what was asked for.
    assert not any(injected["fault"] for injected in truth["injected"])


def test_the_command_in_the_truth_writes_the_same_again(folder, tmp_path):
    command = tomllib.loads((folder / "truth.toml").read_text("utf-8"))["drawn_by"]
    assert run(*shlex.split(command)[2:], "--out", tmp_path / "again").exit_code == 0
    for path in folder.iterdir():
        assert (tmp_path / "again" / path.name).read_bytes() == path.read_bytes()


def test_a_long_table_has_a_repeat_for_every_frame(tmp_path):
    files = given()
    scenario = ramp(files.job, files.camera, Wish(3000))
    web = [shot.web_m for shot in scenario.shots]
    assert len(set(web)) == 3000


def test_pictures_show_faults_too():
    files = given()
    wish = Wish(3, faults=(parse_fault("servo-delay station=2 delay_us=40"),))
    with_fault, without = (
        calm(files.job, files.camera, wish),
        calm(files.job, files.camera, Wish(3)),
    )
    for one, other in zip(with_fault.offsets, without.offsets, strict=True):
        moved = one["magenta"].circumferential_mm - other["magenta"].circumferential_mm
        assert moved == pytest.approx(0.1)
        assert one["cyan"] == other["cyan"]


def test_a_late_trigger_moves_the_group_in_the_frame():
    files = given()
    wish = Wish(2, faults=(parse_fault("trigger-latency latency_us=100"),))
    late, on_time = calm(files.job, files.camera, wish), calm(files.job, files.camera, Wish(2))
    assert late.offsets == on_time.offsets
    for one, other in zip(late.shots, on_time.shots, strict=True):
        # 250 um at 150 m/min, 12 um per pixel, and the web travels up the picture.
        assert one.origin_px[0] - other.origin_px[0] == pytest.approx(-250.0 / 12.0)
        assert one.origin_px[1] == pytest.approx(other.origin_px[1])


def test_the_layout_decides_what_a_tension_step_leaves():
    files = given()
    fault = parse_fault("tension-step at_m=100 size_ppm=50")
    gripped = ramp(files.job, files.camera, Wish(60, faults=(fault,)))
    fan = ramp(files.job, files.camera, Wish(60, faults=(fault,), metering=INFEED))
    last = [run_.offsets[-1]["brown"].circumferential_mm for run_ in (gripped, fan)]
    # Black to brown are 2.4 m of web.
    assert last[1] - last[0] == pytest.approx(2.4 * 0.05, abs=1e-4)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--fault", "backlsh station=2"], "did you mean 'backlash'"),
        (["--fault", "backlash station=7"], "not among the 6"),
        (["--fault", "trigger-latency", "--scenario", "first-print"], "no run"),
        (["--table", "--mark-noise-um", "2000"], "1000"),
        (["--layout", "loose"], "gripped"),
    ],
)
def test_wrong_usage_is_told(options, said, tmp_path):
    done = run(*options, "--out", tmp_path / "none")
    assert done.exit_code == 2
    assert said in " ".join(done.output.replace("│", " ").split())
    assert not (tmp_path / "none").exists()


def test_a_table_of_a_first_print_knows_no_clock(tmp_path):
    done = run("--scenario", "first-print", "--table", "--out", tmp_path / "one")
    assert done.exit_code == 0
    assert not (tmp_path / "one" / "speed_log.csv").exists()
    assert np.isnan(read_offsets(tmp_path / "one" / "offsets.csv")["time_s"]).all()
