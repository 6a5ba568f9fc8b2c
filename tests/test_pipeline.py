"""The order of work: every frame measured once, bad ones set aside, results in order."""

import shutil
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from regscan import workers
from regscan.camera.read import read_camera
from regscan.errors import BadFrames
from regscan.job.read import read_job
from regscan.measuring import check_cameras
from regscan.pipeline import inputs_of, measure_frames
from regscan.recording.sources import open_recording

COLOURS = 6


@pytest.fixture
def frames(drawn, tmp_path) -> Path:
    """A folder of four good frames that a test may spoil."""
    folder = tmp_path / "frames"
    folder.mkdir()
    for path in drawn.glob("*"):
        if path.suffix == ".png" or path.name in ("job.toml", "camera.toml"):
            shutil.copy(path, folder)
    return folder


def measured(folder, progress=lambda done, total: None):
    job, camera = read_job(folder / "job.toml"), read_camera(folder / "camera.toml")
    recording = open_recording([folder])
    return recording, measure_frames(recording, job, {"": camera}, progress)


def why(result):
    return {one.frame: one.why for one in result.skipped}


def test_every_colour_of_every_frame_has_a_row_in_both_tables(frames):
    _, result = measured(frames)
    names = sorted(path.name for path in frames.glob("*.png"))
    for table in (result.offsets, result.marks):
        assert list(dict.fromkeys(table["frame"])) == names
        assert len(table) == COLOURS * len(names)
    assert result.skipped == ()


def test_progress_counts_every_frame_once(frames):
    told = []
    measured(frames, lambda done, total: told.append((done, total)))
    assert told == [(1, 4), (2, 4), (3, 4), (4, 4)]


def test_one_frame_that_is_no_picture_is_set_aside_and_counted(frames):
    bad = sorted(frames.glob("*.png"))[1]
    bad.write_bytes(b"")
    recording, result = measured(frames)
    assert list(why(result)) == [bad.name]
    assert bad.name not in result.offsets["frame"]
    inputs = inputs_of(recording, result)
    assert (inputs.frames_found, inputs.frames_used) == (4, 3)


def test_a_frame_of_another_size_is_set_aside(frames):
    odd = sorted(frames.glob("*.png"))[0]
    cv2.imwrite(str(odd), cv2.imread(str(odd))[:-40, :-20])
    _, result = measured(frames)
    assert list(why(result)) == [odd.name]
    # Width first, as cameras are sold.
    assert "460 x 320 pixels, the others are 480 x 360" in why(result)[odd.name]


def test_no_usable_frame_is_refused_with_every_reason(frames):
    for path in frames.glob("*.png"):
        path.write_bytes(b"not a picture")
    with pytest.raises(BadFrames) as refusal:
        measured(frames)
    assert len(refusal.value.problems) == 4
    assert all(problem.cure for problem in refusal.value.problems)


@pytest.mark.parametrize("grey", [0, 128, 255])
def test_frames_of_one_colour_show_no_marks_and_are_refused(frames, grey):
    for path in frames.glob("*.png"):
        cv2.imwrite(str(path), np.full((360, 480, 3), grey, np.uint8))
    with pytest.raises(BadFrames, match="no mark of any colour"):
        measured(frames)


def test_many_frames_give_the_same_over_processes_as_one_by_one(frames, monkeypatch):
    first = sorted(frames.glob("*.png"))
    for number in range(5, 21):
        shutil.copy(first[number % 4], frames / f"{number:04d}.png")
    monkeypatch.setattr(workers, "cpus", lambda: 1)
    _, alone = measured(frames)
    monkeypatch.setattr(workers, "cpus", lambda: 2)
    _, together = measured(frames)
    assert len(alone.offsets) == 20 * COLOURS
    assert alone.offsets.tobytes() == together.offsets.tobytes()
    assert alone.marks.tobytes() == together.marks.tobytes()


def test_a_camera_the_press_does_not_have_is_refused_before_measuring(frames):
    recording = open_recording([frames])
    job, camera = read_job(frames / "job.toml"), read_camera(frames / "camera.toml")
    sources = tuple(
        replace(source, info=replace(source.info, camera="roof")) for source in recording.sources
    )
    with pytest.raises(BadFrames, match=r"'roof' is not a camera of the job -> known: end"):
        check_cameras(replace(recording, sources=sources), job, {"end": camera, "": camera})


def test_frames_must_say_which_of_several_cameras_took_them(frames):
    recording = open_recording([frames])
    job, camera = read_job(frames / "job.toml"), read_camera(frames / "camera.toml")
    with pytest.raises(BadFrames, match=r"camera column of frames\.csv"):
        check_cameras(recording, job, {"first": camera, "end": camera})
