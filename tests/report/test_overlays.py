import cv2
import numpy as np
import pytest

from regscan.offsets.columns import MARK_COLUMNS, OFFSET_COLUMNS
from regscan.offsets.table import write_table
from regscan.recording.frame import Frame, FrameInfo
from regscan.recording.sources import FrameSource, Recording
from regscan.report.captions import caption
from regscan.report.overlay import Shown
from regscan.report.overlays import MOST, worth_a_look, write_overlays
from regscan.report.pen import DOUBT, IN, OUT
from regscan.report.ranking import APART, spread_out, worst_first
from regscan.report.sheet import CELL, GAP, draw_sheet
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


@pytest.mark.parametrize(("sd_mm", "said"), [(0.004, "0.500 ±0.004 mm"), (np.nan, "0.500 mm")])
def test_a_frame_says_what_is_outside_with_its_doubt_where_that_is_known(invented, sd_mm, said):
    run, offsets, marks = invented
    row = offsets[(offsets["ink"] == "cyan") & (offsets["status"] == "ok")][:1].copy()
    row["circumferential_mm"], row["circumferential_sd_mm"] = 0.5, sd_mm
    (outside,) = caption("one", marks[:0], row, run.job).outside
    assert outside.startswith(f"cyan {said} late (")


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
    sheets = [path for path in written if path.name.startswith("sheet")]
    assert [path.name for path in sheets] == ["sheet-1.jpg", "sheet-2.jpg"]
    assert len(written) == len(chosen) + len(sheets)
    for path in written:
        picture = cv2.imread(str(path))
        assert picture is not None
        assert picture.shape[1] == (1900 if path in sheets else 1280)


def test_a_frame_that_is_gone_is_passed_over(folder, invented):
    chosen = worth_a_look(invented[1], invented[0].job)
    written = write_overlays(folder, recording(folder, invented, leave_out="0001.png"))
    assert len([path for path in written if "sheet" not in path.name]) == len(chosen) - 1
    assert not any(path.name.startswith("first") for path in written)


def test_worst_frames_come_first(invented):
    """Outside by how far, then missing or doubtful marks, then nearness to the tolerance."""
    run, offsets, _ = invented
    order = worst_first(offsets, run.job)
    assert len(order) == len(np.unique(offsets["frame"])) == len(set(order))
    # The truth by hand: no other colour than magenta (lateral) and cyan (along) leaves 0.1 mm.
    good = offsets[(offsets["status"] == "ok") & (offsets["ink"] != "white")]
    reach = np.maximum(np.abs(good["circumferential_mm"]), np.abs(good["lateral_mm"])) / 0.1
    by_frame = {str(f): reach[good["frame"] == f].max() for f in np.unique(good["frame"])}
    outside = [frame for frame, share in by_frame.items() if share > 1.0]
    assert [name for name, _ in order[: len(outside)]] == sorted(
        outside, key=lambda frame: -by_frame[frame]
    )


def test_frames_with_marks_missing_come_before_those_that_are_only_near(invented):
    run, offsets, _ = invented
    calm = offsets.copy()
    for axis in ("circumferential", "lateral"):
        calm[f"{axis}_mm"] = 0.3 * calm[f"{axis}_mm"]
    names = [name for name, _ in worst_first(calm, run.job)][:4]
    assert set(names) == {"0061.png", "0062.png", "0063.png", "0031.png"}


def test_neighbours_of_a_chosen_frame_are_left_out_while_others_are_there(invented):
    run, offsets, _ = invented
    order = worst_first(offsets, run.job)
    numbers = sorted(int(name[:4]) for name, _ in spread_out(order, offsets, 24))
    assert len(numbers) == 24
    assert min(np.diff(numbers)) >= APART
    few = offsets[np.isin(offsets["frame"], ["0001.png", "0002.png", "0003.png"])]
    assert len(spread_out(worst_first(few, run.job), few, 24)) == 3


def test_a_sheet_has_one_magnification_and_a_band_in_the_colour_of_each_state(invented):
    """Cells in the order given: out, in, nothing measured; the band's colour only helps a word."""
    run, offsets, marks = invented
    cells = []
    for name in ("0060.png", "0001.png", "0002.png"):
        rows = [t[t["frame"] == name].copy() for t in (marks, offsets)]
        rows[1]["lateral_mm"] *= name == "0060.png"
        if name == "0002.png":
            rows[1]["status"] = "doubtful"
        pixels = np.full((480, 640, 3), 200, np.uint8)
        cells.append(Shown(Frame(FrameInfo(name, 0), pixels), *rows, run.job, run.cameras[0]))
    sheet = draw_sheet(cells, 1, ["a title"])
    for k, shade in enumerate([OUT, IN, DOUBT]):
        right = GAP + k * (CELL[0] + GAP) + CELL[0] - 3  # right of all words and signs
        column = {tuple(int(value) for value in pixel) for pixel in sheet[-90:, right]}
        assert column & {OUT, IN, DOUBT} == {shade}
