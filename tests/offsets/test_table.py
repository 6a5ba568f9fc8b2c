"""offsets.csv and marks.csv: there and back, and tables that somebody else made."""

import math
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from regscan.errors import BadOutput, BadTable
from regscan.marks.mark import Mark
from regscan.offsets.columns import MARK_COLUMNS, OFFSET_COLUMNS
from regscan.offsets.offset import Offset
from regscan.offsets.table import (
    mark_table,
    offset_table,
    read_marks,
    read_offsets,
    table_of,
    write_table,
)

# The header of the project's contract, copied here so that a changed column shows.
CONTRACT = (
    "frame,time_s,web_m,speed_m_min,camera,edge,station,ink,status,circumferential_mm,"
    "lateral_mm,circumferential_sd_mm,lateral_sd_mm,note"
)


@dataclass(frozen=True)
class Info:
    name: str
    time_s: float | None = None
    web_m: float | None = None
    speed_m_min: float | None = None
    camera: str = ""
    edge: str = ""


TWO_ROWS = [
    (
        Info("0001.png", 1.5, 3.25, 60.0),
        Offset(2, "cyan", "", "ok", 0.012, -0.003, 0.0005, 0.0006, note="a, b"),
    ),
    (Info("0002.png"), Offset(2, "cyan", "", "missing", note="not found")),
]


def test_the_file_has_the_contracts_columns_and_empty_fields_for_the_unknown(tmp_path):
    write_table(tmp_path / "offsets.csv", offset_table(TWO_ROWS), OFFSET_COLUMNS)
    lines = (tmp_path / "offsets.csv").read_text().split("\n")
    assert lines == [
        CONTRACT,
        "0001.png,1.500000,3.250000,60.000000,,,2,cyan,ok,"
        '0.012000,-0.003000,0.000500,0.000600,"a, b"',
        "0002.png,,,,,,2,cyan,missing,,,,,not found",
        "",
    ]


numbers = st.one_of(st.just(math.nan), st.floats(-1e6, 1e6).map(lambda v: round(v, 6)))
words = st.text(st.characters(codec="utf-8", exclude_characters="\0\r"), max_size=12).map(str.strip)
sizes = st.floats(0, 1e3).map(lambda v: round(v, 6))


@st.composite
def tables(draw):
    rows = []
    for number in range(draw(st.integers(1, 6))):
        missing = draw(st.booleans())
        rows.append(
            {
                "frame": f"{number}{draw(words)}".strip(),
                "time_s": draw(numbers),
                "web_m": draw(numbers),
                "speed_m_min": draw(sizes),
                "camera": draw(words),
                "edge": draw(st.sampled_from(["", "operator", "drive"])),
                "station": draw(st.integers(0, 12)),
                "ink": draw(words.filter(bool)),
                "status": "missing" if missing else draw(st.sampled_from(["ok", "doubtful"])),
                "circumferential_mm": math.nan if missing else draw(sizes) - 500.0,
                "lateral_mm": math.nan if missing else draw(numbers),
                "circumferential_sd_mm": math.nan if missing else draw(sizes),
                "note": draw(words),
            }
        )
    return table_of(rows, OFFSET_COLUMNS)


@given(table=tables())
def test_what_is_written_is_read_back(tmp_path_factory, table):
    path = tmp_path_factory.mktemp("round") / "offsets.csv"
    write_table(path, table, OFFSET_COLUMNS)
    again = read_offsets(path)
    for column in OFFSET_COLUMNS:
        if column.dtype == "f8":
            np.testing.assert_allclose(again[column.name], table[column.name], rtol=0, atol=1e-6)
        else:
            assert again[column.name].tolist() == table[column.name].tolist()


def test_marks_are_read_back(tmp_path):
    mark = Mark("cyan", "operator", "ok", 12.25, 40.5, 0.0004, 0.0009, 0.0, contrast=0.5)
    table = mark_table([(Info("a.png"), mark), (Info("b.png"), mark)])
    write_table(tmp_path / "marks.csv", table, MARK_COLUMNS)
    again = read_marks(tmp_path / "marks.csv")
    assert again["row_sd_px"].tolist() == [0.02, 0.02]
    assert again["edge"].tolist() == ["operator", "operator"]
    assert np.isnan(again["misfit"]).all()


def test_an_unwritable_place_is_said_and_nothing_is_left(tmp_path):
    (tmp_path / "offsets.csv").mkdir()
    with pytest.raises(BadOutput, match="cannot be written"):
        write_table(tmp_path / "offsets.csv", offset_table(TWO_ROWS), OFFSET_COLUMNS)
    assert [p.name for p in tmp_path.iterdir()] == ["offsets.csv"]


def test_a_long_frame_name_keeps_its_number():
    names = [f"{'x' * 300}{n}.png" for n in (1, 2)]
    table = table_of([{"frame": name} for name in names], OFFSET_COLUMNS)
    assert table["frame"][0].endswith("x1.png")
    assert table["frame"][0] != table["frame"][1]


def read(tmp_path, text):
    path = tmp_path / "offsets.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_offsets(path)


def test_the_smallest_table_from_elsewhere(tmp_path):
    table = read(tmp_path, "ink , frame,lateral_mm,operator name\ncyan,1,0.05,Jo\ncyan,2,,Jo\n")
    assert table["status"].tolist() == ["ok", "missing"]
    assert table["lateral_mm"][0] == 0.05
    assert np.isnan(table["circumferential_mm"]).all()
    assert np.isnan(table["web_m"]).all()
    assert table["station"].tolist() == [0, 0]


def test_byte_order_mark_and_dos_line_ends_are_fine(tmp_path):
    table = read(tmp_path, b"\xef\xbb\xbfframe,ink,lateral_mm\r\n1,cyan,0.05\r\n\r\n")
    assert table["ink"].tolist() == ["cyan"]


HEAD = "frame,ink,status,circumferential_mm,circumferential_sd_mm\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is empty"),
        (HEAD, "no rows"),
        (b"\xff\xfe\x00", "not UTF-8"),
        ("frame;ink;lateral_mm\n1;cyan;0,5\n", "not separated by commas"),
        ("frame,circumferential_mm\n1,0.1\n", "line 1: column ink is missing"),
        ("frame,ink\n1,cyan\n", "no column holds an offset"),
        ("frame,ink,ink,lateral_mm\n1,cyan,cyan,0\n", "column ink is there 2 times"),
        (HEAD + "1,cyan,ok,0.1\n", "line 2: not 5 fields"),
        (HEAD + "1,cyan,ok,abc,0\n", "line 2: circumferential_mm 'abc' is not a number"),
        (HEAD + '1,cyan,ok,"0,1",0\n', "circumferential_mm '0,1' is not a number"),
        (HEAD + "1,cyan,ok,nan,0\n", "circumferential_mm 'nan' is not a number"),
        (HEAD + "1,cyan,ok,inf,0\n", "circumferential_mm 'inf' is not a number"),
        (HEAD + "1,cyan,good,0.1,0\n", "status 'good' is unknown"),
        (HEAD + "1,cyan,ok,0.1,-0.1\n", "circumferential_sd_mm '-0.1' is below zero"),
        (HEAD + "1,cyan,missing,0.1,\n", "status is missing but there is an offset"),
        (HEAD + "1,cyan,ok,,\n", "status needs an offset but there is none"),
        (HEAD + ",cyan,ok,0.1,\n", "frame is empty"),
        (HEAD + "1,cyan,ok,0.1,0\n1,cyan,ok,0.2,0\n", "line 3: the colour has a row already"),
        (HEAD + f"{'x' * 200},cyan,ok,0.1,0\n", "longer than 128 letters"),
        ('frame,ink,lateral_mm\n1,"cyan,0.1\n', "not CSV"),
    ],
)
def test_a_bad_table_is_refused_with_the_place(tmp_path, text, said):
    with pytest.raises(BadTable) as caught:
        read(tmp_path, text)
    assert said in str(caught.value)
    assert all(problem.cure for problem in caught.value.problems)


def test_all_problems_are_said_at_once(tmp_path):
    rows = "".join(f"{n},cyan,ok,x,0\n" for n in range(9))
    with pytest.raises(BadTable) as caught:
        read(tmp_path, HEAD + rows + "9,cyan,bad,0.1,-1\n")
    assert [p.place for p in caught.value.problems] == [
        "line 11",
        "lines 2, 3, 4, 5, 6 and 4 more",
        "line 11",
    ]


def test_a_table_that_is_not_there(tmp_path):
    with pytest.raises(BadTable, match="cannot be read"):
        read_offsets(tmp_path / "nothing.csv")


def test_marks_need_every_column(tmp_path):
    (tmp_path / "marks.csv").write_text("frame,ink\n1,cyan\n")
    with pytest.raises(BadTable, match="column row_px is missing"):
        read_marks(tmp_path / "marks.csv")
