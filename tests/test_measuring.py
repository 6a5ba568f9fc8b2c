"""Frame after frame: marks are followed within blocks, so how a run is shared out is not seen."""

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from regscan.camera.read import read_camera
from regscan.job.read import read_job
from regscan.marks.finder import MarkFinder
from regscan.measuring import FOLLOWED, FrameMeasurer, block_of
from regscan.recording import sources as recording
from regscan.recording.sources import open_recording

RAMP = Path(__file__).parents[1] / "sample_images" / "ramp"


@pytest.fixture(scope="module")
def measurer():
    job, camera = read_job(RAMP / "job.toml"), read_camera(RAMP / "camera.toml")
    return lambda block=FOLLOWED: FrameMeasurer(job, {"": camera}, block)


@pytest.fixture(scope="module")
def sources():
    return open_recording([RAMP]).sources


def test_a_run_taken_up_at_a_block_gives_the_same_rows(measurer, sources):
    whole = [*map(measurer(), sources[: FOLLOWED + 3])]
    assert whole[FOLLOWED:] == [*map(measurer(), sources[FOLLOWED : FOLLOWED + 3])]


def test_marks_are_followed_as_long_where_cameras_take_turns(measurer, sources, monkeypatch):
    """Two edges seen in turns: each is looked for anew once, at the start of their block."""
    edges = ("operator", "drive")
    turns = [
        replace(source, info=replace(source.info, edge=edges[k % 2]))
        for k, source in enumerate(sources[: FOLLOWED + 4])
    ]
    measure, anew = MarkFinder.measure, []

    def watched(finder, frame):
        anew.append(frame.info.index)
        return measure(finder, frame)

    monkeypatch.setattr(MarkFinder, "measure", watched)
    assert block_of(turns) == 2 * FOLLOWED
    measure_next = measurer(block_of(turns))
    assert all(measure_next(source).marks for source in turns)
    assert anew == [0, 1]


def test_a_block_of_many_cameras_has_an_end(sources):
    turns = [replace(sources[0], info=replace(sources[0].info, camera=f"{k}")) for k in range(20)]
    assert block_of(turns) < 20 * FOLLOWED
    assert block_of([]) == FOLLOWED


@pytest.mark.parametrize("ending", [".png", ".jpg", ".bmp", ".tif"])
def test_frames_read_only_as_far_as_the_marks_lie_give_the_same_rows(
    measurer, sources, tmp_path, monkeypatch, ending
):
    """Also where the marks jump down out of what is read, as they do in the fourth frame."""
    for k, source in enumerate(sources[:6]):
        frame = cv2.imread(str(source.path))
        picture = np.vstack([frame, frame[:20], frame[20::-1], frame[:20]])  # bare web below
        picture = np.roll(picture, 60 if k > 2 else 0, axis=0)
        cv2.imwrite(str(tmp_path / f"{k}{ending}"), picture)
    taken = open_recording([tmp_path]).sources
    read, rows = recording.read_frame, []

    def watched(source, wanted=None):
        frame = read(source, wanted)
        rows.append(len(frame.pixels))
        return frame

    monkeypatch.setattr("regscan.measuring.read_frame", watched)
    upper = [*map(measurer(), taken)]
    whole, several = len(picture), ending != ".tif"  # TIFF is always read whole
    assert len(rows) == 6 + several
    assert [count == whole for count in rows[:3]] == [True, not several, not several]
    monkeypatch.setattr(MarkFinder, "rows", lambda self, before: None)
    assert [*map(measurer(), taken)] == upper
    assert {mark.status for one in upper for mark in one.marks} == {"ok"}
    assert {one.size for one in upper} == {picture.shape[:2]}
