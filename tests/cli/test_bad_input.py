"""Everything that can be wrong with what a user gives: exit code 3, one message, nothing left."""

import os
import re
import shutil
import struct
import zlib

import cv2
import numpy as np
import pytest
from typer.testing import CliRunner

from regscan.cli.app import app

NOISE = np.random.default_rng(7).integers(0, 256, (360, 480, 3), dtype=np.uint8)


@pytest.fixture
def run(drawn, tmp_path):
    """A good run that a test may spoil; `run` is its folder."""
    folder = tmp_path / "monday"
    shutil.copytree(drawn, folder)
    return folder


def change(path, old, new):
    text = path.read_text()
    assert re.search(old, text), f"{old} is not in {path.name}"
    path.write_text(re.sub(old, new, text, count=1))


def write_every_frame(folder, content):
    for path in folder.glob("*.png"):
        if isinstance(content, bytes):
            path.write_bytes(content)
        else:
            cv2.imwrite(str(path), content)


def no_frames(run):
    for path in run.glob("*.png"):
        path.unlink()
    (run / "frames.csv").unlink(missing_ok=True)


def huge_header() -> bytes:
    """A PNG that claims 60 000 x 60 000 pixels in a few bytes."""
    size = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    chunks = [(b"IHDR", size), (b"IDAT", zlib.compress(b"\0")), (b"IEND", b"")]
    parts = [
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        for kind, data in chunks
    ]
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


def with_log(text):
    return lambda run: (run / "speed_log.csv").write_text("time_s,speed_m_min\n" + text)


def in_job(old, new):
    return lambda run: change(run / "job.toml", old, new)


CASES = {
    "empty folder": (no_frames, "monday"),
    "no marks": (lambda run: write_every_frame(run, NOISE), "no mark of any colour"),
    "one colour": (lambda run: write_every_frame(run, NOISE * 0 + 200), "no mark of any colour"),
    "zero bytes": (lambda run: write_every_frame(run, b""), "empty"),
    "not images": (lambda run: write_every_frame(run, b"hello"), "png"),
    "truncated": (
        lambda run: write_every_frame(run, sorted(run.glob("*.png"))[0].read_bytes()[:5000]),
        "cut off",
    ),
    "huge": (lambda run: write_every_frame(run, huge_header()), "claims far more"),
    "unknown ink": (in_job(r'reference = "black"', 'reference = "blak"'), "blak"),
    "negative length": (in_job(r"repeat_mm = [0-9.]+", "repeat_mm = -304.8"), "repeat_mm"),
    "nan length": (in_job(r"repeat_mm = [0-9.]+", "repeat_mm = nan"), "repeat_mm"),
    "not toml": (lambda run: (run / "job.toml").write_text("format = = 1"), "job.toml"),
    "no job": (lambda run: (run / "job.toml").unlink(), "job.toml"),
    "no camera file": (lambda run: (run / "camera.toml").unlink(), "camera.toml"),
    "camera along travel": (
        lambda run: change(run / "camera.toml", r'drive_side = "\w+"', 'drive_side = "up"'),
        "drive_side",
    ),
    "log runs backward": (with_log("0,150\n2,150\n1,150\n"), "speed_log.csv"),
    "log with nan": (with_log("0,150\n1,nan\n2,150\n"), "speed_log.csv"),
    "log with text": (with_log("0,150\n1,fast\n2,150\n"), "fast"),
    "log elsewhere in time": (with_log("9000,150\n9001,150\n"), "speed_log.csv"),
    "log without rows": (with_log(""), "speed_log.csv"),
}


@pytest.mark.parametrize("case", CASES)
def test_bad_input_is_one_message_with_file_problem_and_cure(case, run):
    spoil, expected = CASES[case]
    spoil(run)
    before = sorted(path.name for path in run.parent.rglob("*"))
    done = CliRunner().invoke(app, ["ramp", str(run), "--out", str(run.parent / "out")])
    assert done.exit_code == 3, done.output
    assert done.stdout == ""
    assert expected in done.stderr
    head, *problems = done.stderr.strip().splitlines()
    assert head.startswith(str(run)), done.stderr
    assert re.search(r"\d+ problems?$", head)
    assert problems
    assert all(" -> " in problem for problem in problems), done.stderr
    assert sorted(path.name for path in run.parent.rglob("*")) == before


def test_every_problem_of_a_job_is_said_at_once(run):
    change(run / "job.toml", r'reference = "black"', 'reference = "blak"')
    change(run / "job.toml", r"repeat_mm = [0-9.]+", "repeat_mm = -304.8")
    done = CliRunner().invoke(app, ["ramp", str(run), "--out", str(run.parent / "out")])
    assert "2 problems" in done.stderr
    assert "blak" in done.stderr
    assert "repeat_mm" in done.stderr


def test_one_ink_twice_in_one_place_is_refused(run):
    text = (run / "job.toml").read_text()
    mark = text[text.index("[[marks]]") : text.index("[[marks]]", text.index("[[marks]]") + 1)]
    (run / "job.toml").write_text(text.replace("[[marks]]", f"{mark}[[marks]]", 1))
    done = CliRunner().invoke(app, ["ramp", str(run), "--out", str(run.parent / "out")])
    assert done.exit_code == 3
    assert "in the same place" in done.stderr


def test_a_gap_in_the_log_is_told_and_nothing_is_invented(run):
    (run / "speed_log.csv").write_text("time_s,speed_m_min\n0,150\n0.1,150\n9000,150\n9000.1,150\n")
    done = CliRunner().invoke(app, ["ramp", str(run), "--out", str(run.parent / "out")])
    assert done.exit_code in (0, 3)
    assert "gap" in done.stdout + done.stderr


@pytest.mark.parametrize("place", ["file.txt", "file.txt/deeper"])
def test_an_unwritable_place_is_refused_before_measuring(run, place, monkeypatch):
    (run.parent / "file.txt").write_text("a file, not a folder")
    monkeypatch.setattr("regscan.pipeline.measure_frames", lambda *_: pytest.fail("measured"))
    done = CliRunner().invoke(app, ["ramp", str(run), "--out", str(run.parent / place)])
    assert done.exit_code == 3
    assert "cannot be written" in done.stderr
    assert " -> " in done.stderr


def test_a_full_disk_leaves_nothing(run):
    if not os.path.exists("/dev/full"):
        pytest.skip("needs /dev/full")
    out = run.parent / "out"
    done = CliRunner().invoke(app, ["ramp", str(run), "--out", "/dev/full/out"])
    assert done.exit_code == 3
    assert not out.exists()


@pytest.mark.parametrize("command", ["correct", "gate", "report"])
def test_a_folder_without_results_is_refused(command, tmp_path):
    done = CliRunner().invoke(app, [command, str(tmp_path)])
    assert done.exit_code == 3
    assert "run.json" in done.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("content", ["", "{", "[]", '{"format": 99}'])
def test_a_broken_run_is_refused(content, tmp_path):
    (tmp_path / "run.json").write_text(content)
    done = CliRunner().invoke(app, ["gate", str(tmp_path)])
    assert done.exit_code == 3
    assert "run.json" in done.stderr
    assert "Traceback" not in done.stderr


def test_the_table_that_is_read_is_never_written_over(run):
    text = "frame,ink,circumferential_mm\n1.png,cyan,0.1\n"
    (run / "offsets.csv").write_text(text)
    table = ["ramp", "--offsets", str(run / "offsets.csv"), "--out", str(run)]
    done = CliRunner().invoke(app, table)
    assert done.exit_code == 3
    assert (run / "offsets.csv").read_text() == text
