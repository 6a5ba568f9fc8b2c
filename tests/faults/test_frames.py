"""Frames that vanish, change or grow while a run reads them, and files that are none."""

import os
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from regscan.cli import screen
from regscan.cli.app import app
from regscan.errors import BadFrames
from regscan.offsets.table import read_offsets
from regscan.recording import picture
from regscan.recording.picture import read_picture
from regscan.run import load_run
from tests.recording.pictures import red_over_blue

LAST = "000011.png"


@pytest.fixture
def run(tiny_run, tmp_path):
    return Path(shutil.copytree(tiny_run, tmp_path / "run"))


def measured(run, monkeypatch, meanwhile=lambda done: None):
    """(message, frames used, {frame not used: why}) of a run; `meanwhile` after each frame."""

    class Progress:
        def __enter__(self):
            return lambda done, total: meanwhile(done)

        def __exit__(self, *_):
            return None

    monkeypatch.setattr(screen, "frame_progress", Progress)
    out = run.parent / "out"
    done = CliRunner().invoke(app, ["measure", str(run), "--out", str(out)])
    assert done.exit_code == 0, done.stderr
    used = dict.fromkeys(read_offsets(out / "offsets.csv")["frame"].tolist())
    skipped = {one.frame: one.why for one in load_run(out / "run.json").inputs.skipped}
    return done.stdout, list(used), skipped


def half(path):
    os.truncate(path, path.stat().st_size // 2)


@pytest.mark.parametrize(
    ("fault", "why"),
    [
        (lambda path: path.unlink(), "there is no such file"),
        (half, "is cut off: its end is missing"),
        (lambda path: os.truncate(path, 0), "is empty (zero bytes)"),
        (lambda path: path.write_bytes(b"text"), "is not an image that can be read"),
    ],
    ids=["gone", "half", "empty", "other"],
)
def test_a_frame_that_is_spoilt_during_the_run(run, monkeypatch, fault, why):
    def meanwhile(done):
        if done == 3:
            fault(run / LAST)

    told, used, skipped = measured(run, monkeypatch, meanwhile)
    assert skipped == {LAST: why}
    assert len(used) == 11
    assert LAST in told  # it is named, not passed over in silence


def test_a_frame_still_being_copied_is_left_out_and_one_that_grows_whole_is_used(run, monkeypatch):
    whole = (run / LAST).read_bytes()
    half(run / LAST)
    half(run / "000001.png")

    def meanwhile(done):
        if done == 3:
            (run / LAST).write_bytes(whole)

    _, used, skipped = measured(run, monkeypatch, meanwhile)
    assert list(skipped) == ["000001.png"]
    assert LAST in used


def test_frames_that_come_during_the_run_are_not_its_frames(run, monkeypatch):
    (run / "frames.csv").unlink()
    _, used, skipped = measured(
        run, monkeypatch, lambda done: shutil.copy(run / LAST, run / "000012.png")
    )
    assert len(used) == 12
    assert skipped == {}


def test_a_page_whose_file_is_gone_or_is_replaced_between_two_looks_at_it(tmp_path, monkeypatch):
    from PIL import Image

    path, header = tmp_path / "pages.tif", picture._header
    pages = [Image.fromarray(red_over_blue())] * 3
    smaller = [page.crop((0, 0, 10, 10)) for page in pages]

    def then(act):
        def looked_at(*args):
            found = header(*args)
            act()
            return found

        pages[0].save(path, save_all=True, append_images=pages[1:])
        monkeypatch.setattr(picture, "_header", looked_at)
        with pytest.raises(BadFrames) as caught:
            read_picture(path, 1)
        (problem,) = caught.value.problems
        assert problem.cure
        return problem.what

    assert then(path.unlink) == "there is no such file"
    replaced = then(lambda: smaller[0].save(path, save_all=True, append_images=smaller[1:]))
    assert replaced.startswith(("is damaged", "is cut off"))


def test_links_that_lead_nowhere_or_in_circles_keep_their_place(run, monkeypatch):
    (run / "000003.png").unlink()
    (run / "000003.png").symlink_to(run / "000003.png")
    (run / "000005.png").unlink()
    (run / "000005.png").symlink_to("nowhere.png")
    (run / "frames.csv").unlink()
    (run / "deeper").symlink_to(run)
    told, used, skipped = measured(run, monkeypatch)
    assert skipped.keys() == {"000003.png", "000005.png"}
    assert skipped["000005.png"] == "there is no such file"
    assert "Too many levels" in skipped["000003.png"]
    assert len(used) == 10
    assert "000003.png" in told


def test_results_through_a_link_in_a_circle_are_refused(run):
    (run.parent / "loop").symlink_to(run.parent / "loop")
    for out in ("loop", "loop/deeper"):
        done = CliRunner().invoke(app, ["measure", str(run), "--out", str(run.parent / out)])
        assert done.exit_code == 3
        assert "cannot be written" in done.stderr
        assert " -> " in done.stderr


@pytest.mark.parametrize("made", [os.mkfifo, os.mkdir])
def test_a_pipe_or_a_folder_with_the_name_of_a_frame(run, monkeypatch, made):
    (run / "000003.png").unlink()
    made(run / "000003.png")
    _, used, skipped = measured(run, monkeypatch)
    assert len(used) == 11
    assert list(skipped) == ["000003.png"]


def test_a_device_is_no_frame(tmp_path):
    if not Path("/dev/zero").exists():
        pytest.skip("needs /dev/zero")
    (tmp_path / "endless.png").symlink_to("/dev/zero")
    with pytest.raises(BadFrames, match=r"is no ordinary file -> save the frame as a file"):
        read_picture(tmp_path / "endless.png")


def test_the_process_may_open_few_files(run, driver, tmp_path):
    ended = driver.run(
        ["measure", run, "--no-overlays", "--out", tmp_path / "out"], rlimit=("RLIMIT_NOFILE", 24)
    )
    assert ended.code == 0, driver.log.read_text()
