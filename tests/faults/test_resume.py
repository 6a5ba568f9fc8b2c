"""A run that was stopped is gone on with, and refused when it is no longer the same run."""

import json
import os
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from regscan import workers
from regscan.cli import screen
from regscan.cli.app import app
from regscan.cli.onlyone import only_one
from regscan.errors import WorkerLost
from regscan.journal.journal import NAME, count_frames
from regscan.wholefile import UNFINISHED
from tests.faults.killing import results

FRAMES = 12
STOPPED_AFTER = 5
ONE_SPEED = "time_s,speed_m_min\n0,150\n3,150\n6,150\n"


@pytest.fixture
def run(tiny_run, tmp_path):
    """A copy of the tiny run that a test may change."""
    return Path(shutil.copytree(tiny_run, tmp_path / "run"))


@pytest.fixture
def out(tmp_path):
    return tmp_path / "out"


def told_by(*args):
    done = CliRunner().invoke(app, [*map(str, args), "--no-overlays"])
    return done.exit_code, done.stderr


def stopped(run, out, stop, monkeypatch, command="measure"):
    """What a run that ends in an error after a few frames tells."""

    class Progress:
        def __enter__(self):
            return self

        def __exit__(self, *_):
            return None

        def __call__(self, done, total):
            if done == STOPPED_AFTER:
                raise stop

    with monkeypatch.context() as patch:
        patch.setattr(screen, "frame_progress", Progress)
        return told_by(command, run, "--out", out)


def test_ctrl_c_leaves_the_journal_and_says_how_to_go_on(run, out, monkeypatch):
    code, told = stopped(run, out, KeyboardInterrupt(), monkeypatch)
    assert code == 130
    assert told.strip() == (
        "stopped; 5 of 12 frames kept; the same command with --resume goes on from there"
    )
    assert [path.name for path in out.iterdir()] == [UNFINISHED]
    assert [path.name for path in (out / UNFINISHED).iterdir()] == [NAME]
    assert count_frames(out / UNFINISHED / NAME) == STOPPED_AFTER


def test_a_lost_process_says_it_too(run, out, monkeypatch):
    code, told = stopped(run, out, WorkerLost("a measuring process was ended"), monkeypatch)
    assert code == 3
    assert told.splitlines() == [
        "a measuring process was ended",
        "5 of 12 frames kept; the same command with --resume goes on from there",
    ]


@pytest.mark.parametrize("command", ["measure", "ramp"])
def test_gone_on_with_it_gives_the_same_as_in_one_go(run, tmp_path, monkeypatch, command):
    assert told_by(command, run, "--out", tmp_path / "one")[0] == 0
    two = tmp_path / "two"
    stopped(run, two, KeyboardInterrupt(), monkeypatch, command)
    code, told = told_by(command, run, "--out", two, "--resume")
    assert code == 0
    assert "Going on after frame 5 of 12." in told
    assert results(two) == results(tmp_path / "one")
    assert not (two / UNFINISHED).exists()


def test_gone_on_with_over_processes_from_the_middle_of_a_block(run, tmp_path, monkeypatch):
    for k in range(FRAMES, 40):
        shutil.copy(run / f"{k % FRAMES:06d}.png", run / f"{k:06d}.png")
    (run / "frames.csv").unlink()
    assert told_by("measure", run, "--out", tmp_path / "one")[0] == 0
    stopped(run, tmp_path / "two", KeyboardInterrupt(), monkeypatch)
    monkeypatch.setattr(workers, "cpus", lambda: 2)
    assert told_by("measure", run, "--out", tmp_path / "two", "--resume")[0] == 0
    assert results(tmp_path / "two") == results(tmp_path / "one")


def test_without_resume_it_begins_anew_and_says_so(run, out, monkeypatch):
    stopped(run, out, KeyboardInterrupt(), monkeypatch)
    code, told = told_by("measure", run, "--out", out)
    assert code == 0
    assert "Measuring anew; 5 frames of an interrupted run were here." in told
    assert not (out / UNFINISHED).exists()


def test_resume_where_nothing_lies_measures_from_the_first_frame(run, out):
    code, told = told_by("measure", run, "--out", out, "--resume")
    assert code == 0
    assert "Nothing to go on with here; measuring from the first frame." in told


def edit(path, old, new):
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))


CHANGES = {
    "job": lambda run: edit(run / "job.toml", "diameter_mm = 0.5", "diameter_mm = 0.51"),
    "camera": lambda run: edit(run / "camera.toml", "0.02", "0.0201"),
    "list of frames": lambda run: edit(run / "frames.csv", "000003.png,1.5", "000003.png,1.6"),
    "speed log": lambda run: (run / "speed_log.csv").write_text(ONE_SPEED),
    "000002.png": lambda run: (run / "000002.png").write_bytes(b"another picture"),
    "000004.png": lambda run: (run / "000004.png").unlink(),
}


@pytest.mark.parametrize("changed", CHANGES)
def test_a_run_that_is_no_longer_the_same_is_refused(run, out, monkeypatch, changed):
    stopped(run, out, KeyboardInterrupt(), monkeypatch)
    journal = (out / UNFINISHED / NAME).read_bytes()
    CHANGES[changed](run)
    code, told = told_by("measure", run, "--out", out, "--resume")
    assert code == 3
    first, *problems = told.strip().splitlines()
    assert first.endswith(f"{NAME}: 1 problem")
    assert problems[0].startswith(f"  - {changed}: has changed since")
    assert problems[0].endswith("put the old one back, or leave out --resume to begin anew") or (
        problems[0].endswith("put the old file back, or leave out --resume to begin anew")
    )
    assert (out / UNFINISHED / NAME).read_bytes() == journal  # nothing of it is lost


def test_frames_that_were_not_measured_yet_may_change(run, out, monkeypatch):
    """A run over the changed frames in one go would not have known them otherwise either."""
    stopped(run, out, KeyboardInterrupt(), monkeypatch)
    shutil.copy(run / "000000.png", run / "000009.png")
    assert told_by("measure", run, "--out", out, "--resume")[0] == 0


def test_another_command_and_another_version_are_refused(run, out, monkeypatch):
    stopped(run, out, KeyboardInterrupt(), monkeypatch)
    monkeypatch.setattr("regscan.__version__", "99")
    code, told = told_by("ramp", run, "--out", out, "--resume")
    assert code == 3
    assert "the run was begun with regscan measure" in told
    assert "2 problems" in told


def test_a_file_moved_to_another_folder_is_still_the_same_job(run, out, monkeypatch):
    stopped(run, out, KeyboardInterrupt(), monkeypatch)
    moved = run.parent / "jobs" / "honey.toml"
    moved.parent.mkdir()
    (run / "job.toml").rename(moved)
    code, _ = told_by("measure", run, "--job", moved, "--out", out, "--resume")
    assert code == 0


def test_a_torn_last_record_is_measured_again(run, out, tmp_path, monkeypatch):
    stopped(run, out, KeyboardInterrupt(), monkeypatch)
    path = out / UNFINISHED / NAME
    os.truncate(path, path.stat().st_size - 40)
    code, told = told_by("measure", run, "--out", out, "--resume")
    assert code == 0
    assert "Going on after frame 4 of 12." in told
    assert told_by("measure", run, "--out", tmp_path / "one")[0] == 0
    assert results(out) == results(tmp_path / "one")


def test_a_journal_of_a_later_form_is_refused(run, out, monkeypatch):
    from regscan.journal import journal

    with monkeypatch.context() as patch:
        patch.setattr(journal, "FORMAT", 2)
        stopped(run, out, KeyboardInterrupt(), patch)
    code, told = told_by("measure", run, "--out", out, "--resume")
    assert code == 3
    assert "is a journal of format 2, this regscan reads 1" in told


def test_two_runs_into_one_folder_are_kept_apart(run, out):
    (out / UNFINISHED).mkdir(parents=True)
    with only_one(out / UNFINISHED / "lock", out):
        code, told = told_by("measure", run, "--out", out)
    assert code == 3
    assert "another regscan is writing into it -> wait until it has finished" in told
    assert told_by("measure", run, "--out", out)[0] == 0


def test_a_folder_whose_run_was_interrupted_says_so_to_other_commands(run, out, monkeypatch):
    stopped(run, out, KeyboardInterrupt(), monkeypatch)
    done = CliRunner().invoke(app, ["gate", str(out)])
    assert done.exit_code == 3
    assert "its run goes on or was interrupted" in done.stderr
    assert "--resume" in done.stderr


def test_frames_without_any_mark_leave_no_journal(run, out):
    edit(run / "job.toml", "at_mm = [0.0, -0.9]", "at_mm = [0.0, -9.0]")
    for path in run.glob("*.png"):
        path.write_bytes(b"no picture")
    code, told = told_by("measure", run, "--out", out)
    assert code == 3
    assert "--resume" not in told
    assert not out.exists()


def test_the_journal_is_text_that_anybody_can_read(run, out, monkeypatch):
    stopped(run, out, KeyboardInterrupt(), monkeypatch)
    head, first, *_ = (out / UNFINISHED / NAME).read_text().splitlines()
    assert json.loads(head[9:])["format"] == 1
    record = json.loads(first[9:])
    assert record["frame"] == "000000.png"
    assert len(record["offsets"]) == 3
    assert record["offsets"][0][7] == "cyan"


def test_a_journal_damaged_while_it_is_written_is_noticed(run, out, monkeypatch):
    path = out / UNFINISHED / NAME

    class Progress:
        def __enter__(self):
            return self

        def __exit__(self, *_):
            return None

        def __call__(self, done, total):
            if done == total:
                content = bytearray(path.read_bytes())
                content[-500] ^= 1
                path.write_bytes(content)

    with monkeypatch.context() as patch:
        patch.setattr(screen, "frame_progress", Progress)
        code, told = told_by("measure", run, "--out", out)
    assert code == 3
    assert "has been damaged: 1 of its frames cannot be read back -> check the disk" in told
    assert told_by("measure", run, "--out", out, "--resume")[0] == 0
