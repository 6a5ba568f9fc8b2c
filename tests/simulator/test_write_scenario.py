"""A drawn run's folder: whole, complete, readable, and true to itself."""

import csv
import tomllib
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from typer import Typer
from typer.testing import CliRunner

from regscan.cli.simulate import simulate
from regscan.errors import BadJob, BadOutput
from regscan.job.job import CameraPost
from regscan.job.read import read_job
from regscan.simulator.draw import true_places
from regscan.simulator.example import EXAMPLE, given
from regscan.simulator.scenario import Wish
from regscan.simulator.scenarios import SCENARIOS, first_print, ramp
from regscan.simulator.write import write_scenario

APP = Typer()
APP.command()(simulate)


def run(*options):
    return CliRunner().invoke(APP, [str(option) for option in options])


def rows_of(path):
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def ramp_folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("drawn") / "run"
    assert run("--frames", 24, "--seed", 5, "--out", folder).exit_code == 0
    return folder


def test_the_folder_has_everything_a_run_brings(ramp_folder):
    names = {path.name for path in ramp_folder.iterdir()}
    pictures = {f"{k:04d}.png" for k in range(1, 25)}
    tables = {"frames.csv", "speed_log.csv", "truth.csv", "truth.toml", "job.toml", "camera.toml"}
    assert names == pictures | tables
    assert read_job(ramp_folder / "job.toml").name == "Honey jar, six colours"


def test_the_truth_lists_every_mark_and_the_places_drawn(ramp_folder):
    rows = rows_of(ramp_folder / "truth.csv")
    assert len(rows) == 24 * 6
    files = given()
    scenario = ramp(files.job, files.camera, Wish(24, 5))
    truth = true_places(files.job, files.camera, scenario.offsets[7], scenario.shots[7])
    for row in (row for row in rows if row["frame"] == "0008.png"):
        mark = truth.mark(row["ink"])
        assert float(row["row_px"]) == pytest.approx(mark.row_px, abs=1e-4)
        assert float(row["col_px"]) == pytest.approx(mark.col_px, abs=1e-4)
        against = truth.against(row["ink"], "black")
        assert float(row["circumferential_mm"]) == pytest.approx(against[0], abs=1e-6)
        assert float(row["lateral_mm"]) == pytest.approx(against[1], abs=1e-6)


def test_frames_come_on_whole_repeats_and_on_the_clock_of_the_log(ramp_folder):
    rows = rows_of(ramp_folder / "truth.csv")[::6]
    repeats = np.array([float(row["web_m"]) for row in rows]) / 0.3048
    np.testing.assert_allclose(repeats, np.round(repeats), atol=2e-3)
    assert np.all(np.diff(repeats) > 0)
    log = rows_of(ramp_folder / "speed_log.csv")
    at = np.array([float(row["time_s"]) for row in log])
    speed = np.array([float(row["speed_m_min"]) for row in log])
    times = [float(row["time_s"]) for row in rows_of(ramp_folder / "frames.csv")]
    assert times == [float(row["time_s"]) for row in rows]
    true = np.array([float(row["speed_m_min"]) for row in rows])
    np.testing.assert_allclose(np.interp(times, at, speed), true, atol=1.0)
    # Three minutes at 150, two at 50 and four ramps of 25 s about 100 m/min.
    web = np.sum((speed[1:] + speed[:-1]) / 120.0 * np.diff(at))
    assert web == pytest.approx(3 * 150 + 2 * 50 + 100 / 60 * 100, rel=1e-3)
    assert 0.1 < np.std(speed[:50] - 150.0) < 0.3


def test_misbehaving_stations_are_those_out_of_tolerance(ramp_folder):
    truth = tomllib.loads((ramp_folder / "truth.toml").read_text("utf-8"))
    named = {(m["ink"], m["axis"]) for m in truth["misbehaves"]}
    assert named == {("green", "circumferential"), ("cyan", "lateral")}
    assert named == {(i["ink"], i["axis"]) for i in truth["injected"] if i["fault"]}
    outside = {
        (row["ink"], axis)
        for row in rows_of(ramp_folder / "truth.csv")
        for axis in ("circumferential", "lateral")
        if abs(float(row[f"{axis}_mm"])) > 0.1
    }
    assert named == outside
    assert [hold["speed_m_min"] for hold in truth["holds"]] == [150, 50, 150, 50, 150]


def test_the_command_in_the_truth_draws_the_same_again(ramp_folder, tmp_path):
    command = tomllib.loads((ramp_folder / "truth.toml").read_text("utf-8"))["drawn_by"]
    assert command.startswith("regscan simulate --scenario ramp")
    assert run(*command.split()[2:], "--out", tmp_path / "again").exit_code == 0
    for path in ramp_folder.iterdir():
        assert (tmp_path / "again" / path.name).read_bytes() == path.read_bytes()


def test_a_folder_in_use_is_left_as_it_is(tmp_path):
    (tmp_path / "mine.txt").write_text("keep")
    files = given()
    scenario = SCENARIOS["calm"](files.job, files.camera, Wish(1))
    with pytest.raises(BadOutput, match=r"already there[\s\S]*new folder"):
        write_scenario(scenario, files, tmp_path, "")
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_nothing_half_drawn_is_left(tmp_path):
    files = given()
    scenario = SCENARIOS["calm"](files.job, files.camera, Wish(3))

    def stop(done, total):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_scenario(scenario, files, tmp_path / "new", "", stop)
    assert list(tmp_path.iterdir()) == []


def test_a_place_that_cannot_be_written_is_said(tmp_path):
    (tmp_path / "file").write_text("")
    files = given()
    scenario = SCENARIOS["calm"](files.job, files.camera, Wish(1))
    with pytest.raises(BadOutput, match="--out"):
        write_scenario(scenario, files, tmp_path / "file" / "run", "")


def test_jpeg_keeps_full_colour_resolution(tmp_path):
    run("--scenario", "calm", "--frames", 1, "--image", "jpg", "--out", tmp_path / "jpg")
    run("--scenario", "calm", "--frames", 1, "--image", "png", "--out", tmp_path / "png")
    data = (tmp_path / "jpg" / "0001.jpg").read_bytes()
    # Start-of-frame segment, ITU-T T.81 B.2.2: the sampling factors of all three
    # components are 1 x 1.
    start = data.index(b"\xff\xc0")
    assert [data[start + 11 + 3 * k] for k in range(3)] == [0x11] * 3
    lossy, exact = (cv2.imread(str(next((tmp_path / k).glob(f"*.{k}")))) for k in ("jpg", "png"))
    assert np.abs(lossy.astype(float) - exact).mean() < 1.5


def test_a_first_print_is_far_off_but_apart_and_has_no_clock(tmp_path):
    assert run("--scenario", "first-print", "--seed", 3, "--out", tmp_path / "one").exit_code == 0
    rows = rows_of(tmp_path / "one" / "truth.csv")
    largest = max(abs(float(row["circumferential_mm"])) for row in rows)
    assert 0.3 < largest <= 0.8
    assert {row["time_s"] for row in rows} == {""}
    assert not (tmp_path / "one" / "frames.csv").exists()
    files = given()
    scenario = first_print(files.job, files.camera, Wish(1, 3))
    frame, truth = scenario.frame(0)
    from scipy import ndimage

    dark = frame.pixels.astype(float).min(axis=2) < 150
    assert ndimage.label(ndimage.binary_closing(dark))[1] == len(truth.marks) == 6


def test_a_press_with_two_cameras_has_frames_of_both():
    files = given()
    posts = (CameraPost("early", 2, 0.5), CameraPost("end", 6, 2.0))
    job = replace(files.job, press=replace(files.job.press, cameras=posts))
    scenario = ramp(job, files.camera, Wish(3))
    assert [shot.name for shot in scenario.shots[:3]] == [
        "0001_early.png",
        "0001_end.png",
        "0002_early.png",
    ]
    assert [len(scenario.frame(k)[1].marks) for k in (0, 1)] == [2, 6]


def test_two_web_edges_have_frames_of_their_own():
    files = given()
    marks = tuple(
        replace(mark, edge=edge, lateral_mm=mark.lateral_mm + by)
        for edge, by in (("operator", 0.0), ("drive", 300.0))
        for mark in files.job.marks
    )
    scenario = ramp(replace(files.job, marks=marks), files.camera, Wish(2))
    assert [shot.edge for shot in scenario.shots] == ["drive", "operator"] * 2
    frame, truth = scenario.frame(0)
    assert {mark.edge for mark in truth.marks} == {"drive"}
    rows, cols = frame.pixels.shape[:2]
    assert all(0 < m.row_px < rows and 0 < m.col_px < cols for m in truth.marks)


def test_the_job_s_own_file_goes_along(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text((EXAMPLE / "job.toml").read_text("utf-8").replace("Honey jar", "Plum jar"))
    folder = tmp_path / "out"
    assert run("--job", own, "--scenario", "calm", "--frames", 1, "--out", folder).exit_code == 0
    assert (folder / "job.toml").read_bytes() == own.read_bytes()
    assert "--job own.toml" in (folder / "truth.toml").read_text("utf-8")


def test_a_broken_job_draws_nothing(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text("format = 1\n")
    result = run("--job", own, "--out", tmp_path / "out")
    assert isinstance(result.exception, BadJob)
    assert not (tmp_path / "out").exists()


def test_wrong_usage_is_typer_s_own():
    assert run("--frames", 0).exit_code == 2
    assert run("--noise", "nan").exit_code == 2
    assert run("--scenario", "storm").exit_code == 2
    assert not Path("simulated-storm").exists()
