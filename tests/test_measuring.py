"""Frame after frame: marks are followed within blocks, so how a run is shared out is not seen."""

from pathlib import Path

import cv2
import numpy as np
import pytest

from regscan.camera.read import read_camera
from regscan.job.read import read_job
from regscan.marks.finder import MarkFinder
from regscan.measuring import BLOCK, FrameMeasurer
from regscan.recording import sources as recording
from regscan.recording.sources import open_recording
from regscan.workers import CHUNK

RAMP = Path(__file__).parents[1] / "sample_images" / "ramp"


@pytest.fixture(scope="module")
def measurer():
    job, camera = read_job(RAMP / "job.toml"), read_camera(RAMP / "camera.toml")
    return lambda: FrameMeasurer(job, {"": camera})


@pytest.fixture(scope="module")
def sources():
    return open_recording([RAMP]).sources


def test_a_run_taken_up_at_a_block_gives_the_same_rows(measurer, sources):
    whole = [*map(measurer(), sources[: BLOCK + 3])]
    assert whole[BLOCK:] == [*map(measurer(), sources[BLOCK : BLOCK + 3])]


def test_tasks_of_a_pool_are_whole_blocks():
    assert CHUNK % BLOCK == 0


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
