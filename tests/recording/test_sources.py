"""From paths to frames: which, in what order, under what name; and their pixels."""

import pickle
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from regscan.errors import BadFrames, BadSpeedLog
from regscan.recording.kinds import natural_key
from regscan.recording.sources import open_recording, read_frame
from regscan.recording.speedlog import SpeedLog
from tests.recording.pictures import red_over_blue, write


def names(recording):
    return [source.info.name for source in recording.sources]


def why(paths, **options):
    with pytest.raises(BadFrames) as caught:
        open_recording(paths, **options)
    assert all(problem.cure for problem in caught.value.problems)
    return str(caught.value)


def test_a_folder_in_natural_order(tmp_path):
    for name in ("f10.png", "f9.png", "F1.jpg", "f100.tif", ".hidden.png", "notes.txt"):
        write(tmp_path, name) if name != "notes.txt" else (tmp_path / name).write_text("")
    recording = open_recording([tmp_path])
    assert names(recording) == ["F1.jpg", "f9.png", "f10.png", "f100.tif"]
    assert [source.info.index for source in recording.sources] == [0, 1, 2, 3]
    assert recording.folder == str(tmp_path)
    assert recording.notes == ()


@given(st.lists(st.integers(0, 10**6), min_size=2, max_size=20))
def test_natural_order_is_the_order_of_the_numbers(numbers):
    ordered = sorted((f"web {n} of.png" for n in numbers), key=natural_key)
    assert ordered == [f"web {n} of.png" for n in sorted(numbers)]


@given(st.lists(st.text(max_size=10), max_size=10))
def test_any_names_can_be_ordered(some):
    assert sorted(sorted(some, key=natural_key), key=natural_key) == sorted(some, key=natural_key)


def test_files_given_one_by_one(tmp_path):
    paths = [write(tmp_path, name) for name in ("b.png", "a.png", "c.png")]
    assert names(open_recording([paths[0], paths[1], paths[0]])) == ["a.png", "b.png"]


def test_a_pattern_that_the_shell_left_alone(tmp_path):
    write(tmp_path, "a1.png")
    write(tmp_path, "b1.png")
    assert names(open_recording([tmp_path / "a*.png"])) == ["a1.png"]
    assert "no such file" in why([tmp_path / "z*.png"])


def test_the_list_decides_which_in_what_order(tmp_path):
    for name in ("a.png", "b.png", "c.png", "in/d.png"):
        write(tmp_path, name)
    (tmp_path / "frames.csv").write_text("frame,time_s\nc.png,1\nin/d.png,2\na.png,3\n")
    recording = open_recording([tmp_path])
    assert names(recording) == ["c.png", "in/d.png", "a.png"]
    assert [source.info.time_s for source in recording.sources] == [1.0, 2.0, 3.0]
    assert recording.notes == ("1 frames in the folder are not in its frames.csv: not used",)
    assert read_frame(recording.sources[1]).pixels.shape == (24, 36, 3)


def test_a_listed_frame_that_is_lacking_counts_as_broken(tmp_path):
    write(tmp_path, "a.png")
    (tmp_path / "frames.csv").write_text("frame\na.png\nb.png\n")
    recording = open_recording([tmp_path])
    assert names(recording) == ["a.png", "b.png"]
    with pytest.raises(BadFrames, match="there is no such file"):
        read_frame(recording.sources[1])


def test_a_list_of_other_frames_is_refused(tmp_path):
    write(tmp_path, "a.png")
    (tmp_path / "frames.csv").write_text("frame\na.jpg\nb.jpg\n")
    assert "none of the 2 frames it lists is in this folder" in why([tmp_path])


def test_frames_of_several_cameras_stand_in_the_order_of_time(tmp_path):
    for name in ("a.png", "b.png", "c.png", "d.png"):
        write(tmp_path, name)
    rows = "a.png,1,one\nb.png,3,one\nc.png,1,two\nd.png,2,two\n"
    (tmp_path / "frames.csv").write_text("frame,time_s,camera\n" + rows)
    recording = open_recording([tmp_path])
    assert names(recording) == ["a.png", "c.png", "d.png", "b.png"]
    assert [source.info.index for source in recording.sources] == [0, 1, 2, 3]
    assert [source.info.camera for source in recording.sources] == ["one", "two", "two", "one"]


def test_files_given_one_by_one_take_their_values_from_the_list(tmp_path):
    paths = [write(tmp_path, name) for name in ("a.png", "b.png")]
    (tmp_path / "frames.csv").write_text("frame,web_m\nb.png,4.5\n")
    recording = open_recording(paths)
    assert [source.info.web_m for source in recording.sources] == [None, 4.5]
    assert recording.notes[0] == "1 of the frames given are not in frames.csv"


def test_one_name_in_two_folders(tmp_path):
    write(tmp_path, "one/a.png")
    write(tmp_path, "two/a.png")
    recording = open_recording([tmp_path / "one", tmp_path / "two"])
    assert names(recording) == ["one/a.png", "two/a.png"]
    assert recording.folder == str(tmp_path)


def test_pages_become_frames(tmp_path):
    import cv2

    cv2.imwritemulti(str(tmp_path / "p.tif"), [red_over_blue()] * 3)
    recording = open_recording([tmp_path])
    assert names(recording) == ["p.tif#0001", "p.tif#0002", "p.tif#0003"]
    assert [source.number for source in recording.sources] == [0, 1, 2]


def test_clock_and_log_are_set(tmp_path):
    for k in range(3):
        write(tmp_path, f"{k}.png")
    log = SpeedLog.of([0.0, 20.0], [150.0, 50.0], "speed_log.csv")
    recording = open_recording([tmp_path], speed_log=log, every_s=10.0)
    # trade.md 3.2: 33 m of web in a ramp of 100 m/min in 20 s.
    assert recording.sources[2].info.web_m == pytest.approx(33.3, abs=0.05)
    assert recording.clock.startswith("time: one frame every 10 s; web: the speed log integrated")
    with pytest.raises(BadSpeedLog):
        open_recording([tmp_path], speed_log=SpeedLog.of([90.0, 99.0], [1.0, 1.0]), every_s=1.0)


def test_a_source_travels_to_another_process(tmp_path):
    write(tmp_path, "a.png")
    (source,) = open_recording([tmp_path]).sources
    frame = read_frame(pickle.loads(pickle.dumps(source)))
    assert np.array_equal(frame.pixels, red_over_blue())
    assert frame.full_scale == 255.0


def test_one_bad_frame_leaves_the_others(tmp_path):
    write(tmp_path, "a.png")
    (tmp_path / "b.png").write_bytes(b"")
    good, bad = open_recording([tmp_path]).sources
    assert read_frame(good).pixels.shape == (24, 36, 3)
    with pytest.raises(BadFrames) as caught:
        read_frame(bad)
    assert len(caught.value.problems) == 1


def test_no_frames_to_be_had(tmp_path):
    assert "no frames were given" in why([])
    assert "the folder is empty" in why([tmp_path])
    (tmp_path / "job.toml").write_text("")
    assert "holds no picture and no video (but job.toml)" in why([tmp_path])
    write(tmp_path, "a1.png")
    message = why([tmp_path / "a2.png", tmp_path / "job.toml", tmp_path / "nowhere"])
    assert "did you mean 'a1.png'" in message
    assert "is no picture or video by its name" in message
    assert "3 problems" in message
    assert "--every-s" in why([tmp_path], every_s=-1.0)


def test_links_in_a_circle_are_no_frames(tmp_path):
    if sys.platform == "win32":
        pytest.skip("links need rights there")
    (tmp_path / "a.png").symlink_to(tmp_path / "b.png")
    (tmp_path / "b.png").symlink_to(tmp_path / "a.png")
    assert "holds no picture" in why([tmp_path])
    assert "no such file" in why([tmp_path / "a.png"])


def test_opening_reads_no_pixels(tmp_path):
    for k in range(20):
        (tmp_path / f"{k}.png").write_bytes(b"not read yet")
    assert len(open_recording([tmp_path]).sources) == 20


@given(st.text(max_size=30))
@example("\0/*")
def test_any_path(text):
    try:
        open_recording([Path("/nonexistent-regscan") / text])
    except BadFrames as bad:
        problems = bad.problems
    assert problems
