"""A full or locked disk: what was measured is kept, the message says what and where and how."""

import os

import pytest
from typer.testing import CliRunner

from regscan.cli.app import app
from regscan.wholefile import UNFINISHED
from tests.faults.disks import change, small_disk
from tests.faults.killing import kept, results, undisturbed

PROBLEM, NOTE = "cannot be written", "kept; the same command with --resume goes on from there"


@pytest.fixture(scope="module")
def whole(driver, tiny_run, tmp_path_factory):
    out = tmp_path_factory.mktemp("whole") / "out"
    return undisturbed(driver, ["measure", str(tiny_run), "--no-overlays"], tiny_run, out)


def stopped_by(whole, driver, out, **limits):
    """The message of a run that could not write on, and the frames it had finished."""
    ended = driver.run([*whole.args, "--out", out], **limits)
    told = driver.log.read_text()
    assert ended.code == 3, told
    first, *problems = told.splitlines()
    assert str(out) in first
    assert PROBLEM in problems[0]
    assert " -> " in problems[0]
    frames = kept(out)
    assert frames == whole.records[: len(frames)]
    assert len(frames) >= ended.told
    assert results(out) == {}
    if frames:
        assert problems[-1] == f"{len(frames)} of {len(whole.records)} frames {NOTE}"
    return told, frames


def goes_on(whole, driver, out):
    assert driver.run([*whole.args, "--out", out, "--resume"]).code == 0
    assert results(out) == whole.files
    assert not (out / UNFINISHED).exists()


@pytest.mark.parametrize(
    ("size_kb", "finished"), [(4, "some"), (12, "some"), (64, "all"), (100, "all")]
)
def test_a_disk_that_is_full(whole, driver, tmp_path, size_kb, finished):
    """In the middle of the frames, in the tables, in the report."""
    with small_disk(tmp_path / "disk", f"size={size_kb}k") as disk:
        out = disk / "out"
        told, frames = stopped_by(whole, driver, out)
        assert "no space left on device" in told.lower()
        assert (0 < len(frames) < 12) if finished == "some" else len(frames) == 12
        change(disk, "size=8m")
        goes_on(whole, driver, out)


@pytest.mark.parametrize("largest_kb", [1, 12, 100])
def test_a_limit_on_the_size_of_files(whole, driver, tmp_path, largest_kb):
    """The same without a disk of its own, so that it is tested for every user."""
    limit = ("RLIMIT_FSIZE", largest_kb * 1024)
    told, _ = stopped_by(whole, driver, tmp_path / "out", rlimit=limit)
    assert "file too large" in told.lower()
    goes_on(whole, driver, tmp_path / "out")


def test_a_disk_that_fills_up_leaves_older_results_alone(whole, driver, tmp_path):
    with small_disk(tmp_path / "disk", "size=8m") as disk:
        assert driver.run([*whole.args, "--out", disk]).code == 0
        room = sum(path.stat().st_size for path in disk.rglob("*")) // 1024 + 100
        change(disk, f"size={room}k")
        assert driver.run([*whole.args, "--out", disk]).code == 3
        assert results(disk) == whole.files


def test_a_disk_that_may_only_be_read(whole, driver, tmp_path):
    with small_disk(tmp_path / "disk", "size=1m") as disk:
        change(disk, "ro")
        ended = driver.run([*whole.args, "--out", disk / "out"])
    told = driver.log.read_text()
    assert (ended.code, ended.told) == (3, 0)  # before any frame is measured
    assert f"{disk / 'out'}: 1 problem" in told
    assert "read-only file system -> give another folder with --out" in told


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_may_only_be_read(tiny_run, tmp_path):
    locked = tmp_path / "locked"
    locked.mkdir(mode=0o500)
    done = CliRunner().invoke(app, ["measure", str(tiny_run), "--out", str(locked / "out")])
    assert done.exit_code == 3
    assert "permission denied -> give another folder with --out" in done.stderr


def test_frames_on_a_disk_that_may_only_be_read(whole, driver, tiny_run, tmp_path):
    with small_disk(tmp_path / "disk", "size=2m") as disk:
        for path in tiny_run.iterdir():
            (disk / path.name).write_bytes(path.read_bytes())
        change(disk, "ro")
        assert driver.run(["measure", disk, "--no-overlays", "--out", tmp_path / "out"]).code == 0
    assert results(tmp_path / "out")["offsets.csv"] == whole.files["offsets.csv"]
