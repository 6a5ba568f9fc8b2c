"""Frame after frame: marks are followed within blocks, so how a run is shared out is not seen."""

from pathlib import Path

import pytest

from regscan.camera.read import read_camera
from regscan.job.read import read_job
from regscan.measuring import BLOCK, FrameMeasurer
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
