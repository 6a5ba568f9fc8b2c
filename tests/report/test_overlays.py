import cv2
import numpy as np
import pytest

from regscan.offsets.columns import MARK_COLUMNS, OFFSET_COLUMNS
from regscan.offsets.table import write_table
from regscan.recording.frame import FrameInfo
from regscan.recording.sources import FrameSource, Recording
from regscan.report.overlays import MOST, worth_a_look, write_overlays
from regscan.run import save_run


@pytest.fixture
def folder(invented, tmp_path):
    run, offsets, marks = invented
    save_run(run, tmp_path / "run.json")
    write_table(tmp_path / "offsets.csv", offsets, OFFSET_COLUMNS)
    write_table(tmp_path / "marks.csv", marks, MARK_COLUMNS)
    return tmp_path


def recording(folder, invented, leave_out=""):
    names = dict.fromkeys(str(name) for name in invented[1]["frame"])
    for name in names:
        if name != leave_out:
            cv2.imwrite(str(folder / name), np.full((480, 640, 3), 200, np.uint8))
    sources = tuple(FrameSource(FrameInfo(n, k), folder / n) for k, n in enumerate(names))
    return Recording(sources, str(folder), "", ())


def test_first_worst_and_weakest_are_chosen_once_each(invented):
    run, offsets, _ = invented
    chosen = worth_a_look(offsets, run.job)
    frames = [frame for _, frame, _ in chosen]
    assert len(frames) == len(set(frames)) <= MOST
    assert chosen[0] == ("first", "0001.png", "")
    good = offsets[offsets["status"] == "ok"]
    worst = good[np.argmax(np.abs(good["circumferential_mm"]) * (good["ink"] == "cyan"))]
    assert chosen[1] == ("worst", str(worst["frame"]), "")
    assert chosen[2][0] == "most-doubtful-or-missing"


def test_a_doubtful_outlier_is_not_the_worst_frame(invented):
    run, offsets, _ = invented
    wild = offsets.copy()
    wild["circumferential_mm"][wild["status"] == "doubtful"] = 5.0
    assert worth_a_look(wild, run.job)[1] == worth_a_look(offsets, run.job)[1]


def test_pictures_are_written_and_can_be_opened(folder, invented):
    chosen = worth_a_look(invented[1], invented[0].job)
    written = write_overlays(folder, recording(folder, invented))
    assert sorted(written) == sorted((folder / "overlays").iterdir())
    assert len(written) == len(chosen)
    for path in written:
        picture = cv2.imread(str(path))
        assert picture is not None
        assert picture.shape[1] == 1280


def test_a_frame_that_is_gone_is_passed_over(folder, invented):
    chosen = worth_a_look(invented[1], invented[0].job)
    written = write_overlays(folder, recording(folder, invented, leave_out="0001.png"))
    assert len(written) == len(chosen) - 1
    assert not any(path.name.startswith("first") for path in written)
