"""The whole job through the command line: simulate, ramp, correct, gate, report."""

import csv
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from typer.testing import CliRunner

from regscan.cli.app import app

CONTRACT_OFFSETS = (
    "frame,time_s,web_m,speed_m_min,camera,edge,station,ink,status,circumferential_mm,"
    "lateral_mm,circumferential_sd_mm,lateral_sd_mm,note"
)
CONTRACT_CORRECTIONS = "station,ink,axis,move_mm,steps,words,remaining_mm,sd_mm"


def regscan(*arguments):
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


def succeeds(*arguments):
    done = regscan(*arguments)
    assert done.exit_code == 0, done.output
    return done


def rows_of(path: Path):
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def answers(cases):
    return {(one["ink"], one["axis"]): one["answer"] for one in cases}


@pytest.fixture(scope="module")
def ramp(tmp_path_factory):
    """A simulated ramp and what `regscan ramp` made of it."""
    place = tmp_path_factory.mktemp("whole")
    succeeds("simulate", "--scenario", "ramp", "--frames", 40, "--out", place / "frames")
    done = succeeds("ramp", place / "frames", "--out", place / "out")
    return place / "frames", place / "out", done


def test_the_runs_folder_holds_the_contracts_files(ramp):
    frames, out, done = ramp
    names = {path.name for path in out.iterdir()}
    tables = {"offsets.csv", "marks.csv", "corrections.csv", "cuts.csv"}
    assert names == {*tables, "run.json", "report.html", "overlays"}
    assert str(out / "report.html") in done.stdout
    assert not [path for path in frames.iterdir() if path.name.startswith(".")]


def test_the_tables_have_the_contracts_columns(ramp):
    _, out, _ = ramp
    assert (out / "offsets.csv").read_text().splitlines()[0] == CONTRACT_OFFSETS
    assert (out / "corrections.csv").read_text().splitlines()[0] == CONTRACT_CORRECTIONS


def test_every_frame_and_colour_has_its_row_and_the_reference_zeros(ramp):
    frames, out, _ = ramp
    rows = rows_of(out / "offsets.csv")
    assert {row["frame"] for row in rows} == {path.name for path in frames.glob("*.png")}
    reference = [row for row in rows if row["ink"] == "black"]
    assert len(reference) == 40
    assert {float(row["circumferential_mm"]) for row in reference} == {0.0}


def test_offsets_are_those_that_were_drawn(ramp):
    """truth.csv is the simulator's, which shares no code with measuring."""
    frames, out, _ = ramp
    truth = {(row["frame"], row["ink"]): row for row in rows_of(frames / "truth.csv")}
    compared = 0
    for row in rows_of(out / "offsets.csv"):
        drawn = truth[row["frame"], row["ink"]]
        for axis in ("circumferential_mm", "lateral_mm"):
            assert float(row[axis]) == pytest.approx(float(drawn[axis]), abs=0.006)
            compared += 1
    assert compared == 40 * 6 * 2


def test_text_for_people_fits_eighty_columns(ramp):
    _, out, done = ramp
    for text in (done.stdout, regscan("correct", out).stdout, regscan("gate", out).stdout):
        assert text
        lines = [line for line in text.splitlines() if str(out) not in line]
        assert max(map(len, lines)) <= 80
        assert "\x1b" not in text


def test_corrections_are_said_with_their_words_and_cautions(ramp):
    _, out, _ = ramp
    done = succeeds("correct", out)
    moves = [row for row in rows_of(out / "corrections.csv") if row["steps"] not in ("", "0")]
    assert moves
    for row in moves:
        wanted = {
            ("circumferential", True): "advance",
            ("circumferential", False): "retard",
            ("lateral", True): "operator side",
            ("lateral", False): "drive side",
        }[row["axis"], float(row["move_mm"]) < 0]
        assert wanted in row["words"]
    assert "Stop, isolate, then check" in " ".join(done.stdout.split())


def test_the_gate_says_it_in_words_xml_and_exit_code(ramp):
    _, out, _ = ramp
    done = regscan("gate", out)
    document = json.loads(regscan("gate", out, "--json").stdout)
    codes = {"in register": 0, "out of tolerance": 1, "cannot be decided": 4}
    assert done.exit_code == codes[document["verdict"]["answer"]]
    assert document["verdict"]["sentence"] in " ".join(done.stdout.split())
    assert (out / "gate.xml").read_text().count("<testcase") == 10  # 5 colours, 2 axes


def test_the_report_can_be_written_again_without_frames(ramp):
    frames, out, _ = ramp
    frames.rename(frames.with_name("away"))
    try:
        (out / "report.html").unlink()
        succeeds("report", out)
        assert "Honey jar" in (out / "report.html").read_text()
    finally:
        frames.with_name("away").rename(frames)


@pytest.mark.parametrize("command", ["ramp", "measure", "correct", "gate"])
def test_json_is_one_document_on_standard_output(ramp, tmp_path, command):
    frames, out, _ = ramp
    if command in ("correct", "gate"):
        done = regscan(command, out, "--json")
    else:
        few = sorted(frames.glob("*.png"))[:2] if command == "measure" else [frames]
        done = regscan(command, *few, "--out", tmp_path / "out", "--json", "--no-overlays")
    document = json.loads(done.stdout)
    assert document["format"] == 1
    assert document["folder"]


def test_a_table_measured_earlier_gives_the_same_verdict(ramp, tmp_path):
    frames, out, _ = ramp
    again = tmp_path / "again"
    log = frames / "speed_log.csv"
    given = ("--job", frames / "job.toml", "--speed-log", log, "--out", again)
    succeeds("ramp", "--offsets", out / "offsets.csv", *given)
    first, second = (json.loads((place / "run.json").read_text()) for place in (out, again))
    # The table holds a millionth of a mm, so only the last digits may differ.
    assert second["verdict"]["answer"] == first["verdict"]["answer"]
    assert answers(second["verdict"]["cases"]) == answers(first["verdict"]["cases"])
    assert [one["words"] for one in second["corrections"]] == [
        one["words"] for one in first["corrections"]
    ]
    assert not (again / "marks.csv").exists()


def test_a_calm_run_passes(drawn, tmp_path):
    out = tmp_path / "out"
    succeeds("measure", drawn, "--out", out, "--no-overlays")
    assert regscan("gate", out).exit_code in (0, 4)  # four frames may be too few to decide


def test_one_bad_frame_is_counted_everywhere(drawn, tmp_path):
    frames, out = tmp_path / "frames", tmp_path / "out"
    shutil.copytree(drawn, frames)
    bad = sorted(frames.glob("*.png"))[2]
    bad.write_bytes(bad.read_bytes()[:2000])
    done = succeeds("measure", frames, "--out", out, "--no-overlays")
    assert "1 of 4 frames could not be used" in done.stdout
    assert bad.name in done.stdout
    inputs = json.loads((out / "run.json").read_text())["inputs"]
    assert inputs["frames_used"] == 3
    assert [one["frame"] for one in inputs["skipped"]] == [bad.name]
    assert bad.name in (out / "report.html").read_text()


def test_neither_or_both_sources_is_wrong_usage(ramp):
    frames, out, _ = ramp
    assert regscan("ramp").exit_code == 2
    assert regscan("ramp", frames, "--offsets", out / "offsets.csv").exit_code == 2


def test_the_version_is_said():
    assert succeeds("--version").stdout.startswith("regscan 0.")


@pytest.mark.skipif(os.name == "nt", reason="sends the signal a terminal sends")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_stopped_run_leaves_nothing(drawn, tmp_path, number):
    frames, out = tmp_path / "frames", tmp_path / "out"
    shutil.copytree(drawn, frames)
    first = sorted(frames.glob("*.png"))[0]
    for k in range(3000):
        os.link(first, frames / f"copy{k}.png")
    (frames / "frames.csv").unlink(missing_ok=True)
    command = [sys.executable, "-m", "regscan", "measure", frames, "--out", out]
    run = subprocess.Popen(command, stderr=subprocess.PIPE, text=True, start_new_session=True)
    deadline = time.monotonic() + 60
    while not out.exists() and time.monotonic() < deadline:
        time.sleep(0.02)
    os.killpg(run.pid, number)
    _, said = run.communicate(timeout=60)
    assert run.returncode == 128 + number, said
    assert "Traceback" not in said
    assert not out.exists()
