"""The tables shown in docs/frames.md are read as they stand, and mean what is said there."""

import re

import pytest

from regscan.recording.framelist import read_frame_list
from regscan.recording.kinds import PICTURES, VIDEOS
from regscan.recording.picture import LARGEST_PIXELS
from regscan.recording.speedlog import GAP_LEAST_S, GAP_PITCHES, read_speed_log
from tests.job.example import DOCS

PAGE = (DOCS / "frames.md").read_text(encoding="utf-8")
FRAMES_CSV, SPEED_LOG_CSV = re.findall(r"```csv\n(.*?)```", PAGE, re.DOTALL)


def test_the_frame_list_of_the_manual(tmp_path):
    (tmp_path / "frames.csv").write_text(FRAMES_CSV)
    infos = read_frame_list(tmp_path / "frames.csv").infos
    assert [info.name for info in infos] == ["0001.png", "0002.png", "0003.png"]
    assert (infos[1].web_m, infos[2].web_m) == (1.25, None)


def test_the_speed_log_of_the_manual(tmp_path):
    (tmp_path / "speed_log.csv").write_text(SPEED_LOG_CSV)
    log = read_speed_log(tmp_path / "speed_log.csv")
    assert log.web_at(40.0) - log.web_at(20.0) == pytest.approx(33.3, abs=0.05)


def test_the_numbers_of_the_manual():
    assert (GAP_PITCHES, GAP_LEAST_S, LARGEST_PIXELS) == (5.0, 1.0, 100_000_000)
    for suffix in {*PICTURES, *VIDEOS} - {".jpg", ".tif", ".m4v", ".mpg"}:
        assert suffix[1:].lower() in PAGE.lower()
