"""regscan teach: a folder of approved frames becomes a job file that measures them."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from regscan.cli.app import app
from regscan.job.read import read_job


def ran(*words):
    return CliRunner().invoke(app, [str(word) for word in words])


@pytest.fixture(scope="module")
def sheet(tmp_path_factory):
    """Four drawn frames with their job and camera."""
    folder = tmp_path_factory.mktemp("approved") / "sheet"
    done = ran("simulate", "--scenario", "calm", "--frames", 4, "--out", folder)
    assert done.exit_code == 0, done.output
    return folder


def test_teach_then_measure_to_the_approved_sheet(sheet, tmp_path):
    job = tmp_path / "taught.toml"
    done = ran("teach", sheet, "--zero", "approved", "--out", job)
    assert done.exit_code == 0, done.output
    for words in ("substrate", "CIEDE2000", "Places on the approved sheet", "early", "reference"):
        assert words in done.stdout
    assert "Zero: the approved sheet." in done.stdout
    assert str(job) in done.stdout.replace("\n", "")
    out = tmp_path / "out"
    done = ran("measure", sheet, "--job", job, "--out", out, "--no-overlays", "--json")
    assert done.exit_code == 0, done.output
    run = json.loads(done.stdout)
    assert run["job"]["zero"] == "approved"
    assert "the approved sheet" in run["verdict"]["rule"]
    settled = [t["settled"] for t in run["drift"]["tracks"] if t["ink"] != "black"]
    # The very frames that were taught: a robust mean of theirs lies on their plain mean,
    # within their scatter. They were printed up to 0.03 mm off the design.
    assert all(abs(level["mean_mm"]) < level["sd_mm"] for level in settled)
    assert all(level["sd_mm"] > 0.0002 for level in settled)
    assert "the approved sheet" in (out / "report.html").read_text(encoding="utf-8")


def test_the_default_is_a_new_file_beside_the_job_and_the_jobs_own_zero(sheet):
    done = ran("teach", sheet)
    assert done.exit_code == 0, done.output
    assert "Zero: the design." in done.stdout
    taught = read_job(sheet / "job-taught.toml")
    assert taught.zero == "design"
    assert taught.substrate.space == "taught"
    # Learnt all the same, so that one word in the file switches.
    assert all(m.approved for m in taught.marks if m.ink != taught.reference)
    assert read_job(sheet / "job.toml").substrate.space == "lab"


def test_a_job_without_any_colour_is_taught_whole(sheet, tmp_path):
    text = (sheet / "job.toml").read_text(encoding="utf-8")
    lines = ["taught = true" if line.startswith("lab = ") else line for line in text.splitlines()]
    job = tmp_path / "untaught.toml"
    job.write_text("\n".join(lines), encoding="utf-8")
    done = ran("teach", sheet, "--job", job, "--camera", sheet / "camera.toml")
    assert done.exit_code == 0, done.output
    assert "told apart by layout and shape" in done.stdout.replace("\n", " ")
    learnt = read_job(tmp_path / "job-taught.toml")
    known = read_job(sheet / "job.toml")
    assert all(ink.colour.values for ink in learnt.inks if ink.measurable)
    assert [ink.name for ink in learnt.inks] == [ink.name for ink in known.inks]


def refused(done):
    assert done.exit_code == 3, done.output
    head, *problems = done.stderr.strip().splitlines()
    assert "problem" in head
    assert all(" -> " in problem for problem in problems), done.stderr
    return done.stderr


def test_frames_without_marks_are_refused_and_nothing_is_written(sheet, tmp_path):
    import cv2
    import numpy as np

    blank = tmp_path / "blank"
    blank.mkdir()
    cv2.imwrite(str(blank / "1.png"), np.full((480, 640, 3), 200, np.uint8))
    files = ["--job", sheet / "job.toml", "--camera", sheet / "camera.toml"]
    said = refused(ran("teach", blank, *files, "--out", tmp_path / "new.toml"))
    assert "could not be found" in said
    assert not Path(tmp_path / "new.toml").exists()


@pytest.mark.parametrize("spoil", ["missing", "empty", "torn", "job"])
def test_bad_input_is_told_in_one_message(sheet, tmp_path, spoil):
    files = ["--job", sheet / "job.toml", "--camera", sheet / "camera.toml"]
    folder = tmp_path / "frames"
    if spoil != "missing":
        folder.mkdir()
    if spoil == "torn":
        (folder / "1.png").write_bytes(b"\x89PNG\r\n\x1a\n")
    if spoil == "job":
        files[1] = tmp_path / "none.toml"
    refused(ran("teach", folder, *files, "--out", tmp_path / "new.toml"))
    assert not (tmp_path / "new.toml").exists()


def test_a_place_that_cannot_be_written_is_told(sheet, tmp_path):
    (tmp_path / "plain").write_text("a file")
    refused(ran("teach", sheet, "--out", tmp_path / "plain" / "job.toml"))
