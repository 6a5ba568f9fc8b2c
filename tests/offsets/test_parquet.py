"""offsets.parquet and marks.parquet, read by programs that know nothing of regscan."""

import json
import math
import sys

import duckdb
import numpy as np
import pandas
import polars
import pyarrow
import pyarrow.parquet
import pytest

from regscan.errors import BadOutput, BadTable, MissingExtra
from regscan.offsets.columns import MARK_COLUMNS, OFFSET_COLUMNS
from regscan.offsets.parquet import read_parquet_offsets, sign_of, unit_of, write_parquet
from regscan.offsets.table import read_offsets, table_of

ROWS = [
    {
        "frame": "0001.png", "time_s": 1.5, "web_m": 3.25, "speed_m_min": 60.0,
        "edge": "drive", "station": 2, "ink": "cyan", "status": "ok",
        "circumferential_mm": 0.0123456789012, "lateral_mm": -0.003,
        "circumferential_sd_mm": 0.0005, "lateral_sd_mm": 0.0006, "note": 'a, "b"\r\nc',
    },
    {"frame": "größe-漢字-0002.png", "station": 2, "ink": "cyan", "status": "missing",
     "note": "gone"},
    {"frame": "0003.png", "ink": "black", "status": "ok", "circumferential_mm": 0.0,
     "lateral_mm": 0.0},
]  # fmt: skip


@pytest.fixture
def offsets():
    return table_of(ROWS, OFFSET_COLUMNS)


@pytest.fixture
def file(tmp_path, offsets):
    path = tmp_path / "offsets.parquet"
    write_parquet(path, offsets, OFFSET_COLUMNS)
    return path


def read_by_pandas(path):
    frame = pandas.read_parquet(path)
    return frame.astype(object).where(frame.notna(), None).to_dict("records")


def read_by_polars(path):
    return polars.read_parquet(path).to_dicts()


def read_by_duckdb(path):
    found = duckdb.connect().execute("select * from read_parquet(?)", [str(path)])
    names = [column[0] for column in found.description]
    return [dict(zip(names, row, strict=True)) for row in found.fetchall()]


@pytest.mark.parametrize("read", [read_by_pandas, read_by_polars, read_by_duckdb])
def test_three_programs_read_the_same_rows_to_the_last_digit(file, read):
    rows = read(file)
    assert [list(row) for row in rows] == [[c.name for c in OFFSET_COLUMNS]] * len(ROWS)
    for row, wanted in zip(rows, ROWS, strict=True):
        for column in OFFSET_COLUMNS:
            # Text that is not there is empty text; a number that is not known is no number.
            unknown = "" if column.dtype.startswith("U") else None
            assert row[column.name] == wanted.get(column.name, unknown), column.name


def test_an_unknown_number_is_null_and_not_a_nan_that_spoils_a_mean(file):
    column = pyarrow.parquet.read_table(file).column("circumferential_mm")
    assert column.null_count == 1
    mean = duckdb.connect().execute(
        "select avg(circumferential_mm), count(circumferential_mm) from read_parquet(?)",
        [str(file)],
    )
    assert mean.fetchone() == (pytest.approx(0.0123456789012 / 2), 2)


def test_every_field_carries_its_meaning_unit_and_sign(file):
    schema = pyarrow.parquet.read_schema(file)
    about = {f.name: {k.decode(): v.decode() for k, v in f.metadata.items()} for f in schema}
    late = about["circumferential_mm"]
    assert (late["unit"], late["sign"]) == ("mm", "+ is late")
    assert about["lateral_mm"]["sign"] == "+ is toward the drive side"
    assert about["speed_m_min"]["unit"] == "m/min"
    assert about["web_m"]["unit"] == "m"
    assert about["time_s"]["unit"] == "s"
    assert "unit" not in about["ink"]
    assert all(about[c.name]["meaning"] == c.meaning for c in OFFSET_COLUMNS)


@pytest.mark.parametrize("program", ["duckdb", "polars"])
def test_the_files_own_metadata_says_the_same_to_programs_that_do_not_know_arrow(file, program):
    if program == "duckdb":
        found = duckdb.connect().execute("select * from parquet_kv_metadata(?)", [str(file)])
        told = next(value for _, key, value in found.fetchall() if key == b"regscan")
    else:
        told = polars.read_parquet_metadata(file)["regscan"]
    document = json.loads(told)
    assert document["format"] == 1
    assert document["table"] == "offsets"
    columns = {column["name"]: column for column in document["columns"]}
    assert list(columns) == [c.name for c in OFFSET_COLUMNS]
    assert columns["lateral_sd_mm"]["meaning"] == "one standard deviation of lateral_mm"


def test_every_unit_is_the_one_the_name_ends_with():
    for column in (*OFFSET_COLUMNS, *MARK_COLUMNS):
        unit = unit_of(column)
        assert not unit or column.name.endswith(unit.replace("/", "_"))
    units = {c.name: unit_of(c) for c in MARK_COLUMNS}
    assert (units["row_px"], units["edge_lateral_um"], units["contrast"]) == ("px", "um", "")
    assert {c.name: sign_of(c) for c in MARK_COLUMNS}["slur_um"] == "+ trails toward the unwind"


def test_it_comes_back_as_it_was(file, offsets):
    again = read_offsets(file)
    for column in OFFSET_COLUMNS:
        wanted = offsets[column.name]
        if column.name == "note":  # blanks at the ends are taken off, as from CSV
            wanted = np.char.strip(wanted)
        np.testing.assert_array_equal(again[column.name], wanted)


def test_a_table_made_elsewhere_may_have_other_types_and_fewer_columns(tmp_path):
    path = tmp_path / "theirs.parquet"
    polars.DataFrame(
        {
            "frame": ["a", "b"],
            "ink": polars.Series(["cyan", "cyan"], dtype=polars.Categorical),
            "lateral_mm": polars.Series([0.25, math.nan], dtype=polars.Float32),
            "station": polars.Series([2, None], dtype=polars.UInt8),
            "more": [[1], [2]],
        }
    ).write_parquet(path)
    table = read_parquet_offsets(path)
    assert table["lateral_mm"].tolist()[0] == 0.25
    assert table["status"].tolist() == ["ok", "missing"]
    assert table["station"].tolist() == [2, 0]


def test_what_is_wrong_is_told_by_row(tmp_path):
    path = tmp_path / "bad.parquet"
    polars.DataFrame(
        {"frame": ["a", "b"], "circumferential_mm": [0.1, 0.2], "status": ["ok", "fine"]}
    ).write_parquet(path)
    with pytest.raises(BadTable) as refusal:
        read_offsets(path)
    told = str(refusal.value)
    assert "column ink is missing" in told
    assert "row 2: status 'fine' is unknown" in told
    assert "line" not in told


@pytest.mark.parametrize("content", [b"", b"frame,ink\n", b"PAR1 nothing PAR1"])
def test_what_is_no_parquet_is_refused_with_a_cure(tmp_path, content):
    path = tmp_path / "no.parquet"
    path.write_bytes(content)
    with pytest.raises(BadTable, match="->"):
        read_offsets(path)


def test_a_cut_or_spoilt_file_is_refused(file, tmp_path):
    data = file.read_bytes()
    cut = tmp_path / "cut.parquet"
    cut.write_bytes(data[: len(data) // 2])
    with pytest.raises(BadTable, match="->"):
        read_offsets(cut)
    with pytest.raises(BadTable, match="cannot be read"):
        read_offsets(tmp_path / "nowhere.parquet")


def test_a_small_file_of_very_many_rows_is_refused_before_it_is_unpacked(tmp_path):
    path = tmp_path / "bomb.parquet"
    kept = pyarrow.DictionaryArray.from_arrays(np.zeros(1_000_000, np.int8), ["a"])
    table = pyarrow.table({"frame": kept, "ink": kept})
    with pyarrow.parquet.ParquetWriter(path, table.schema) as writer:
        for _ in range(21):
            writer.write_table(table)
    assert path.stat().st_size < 200_000
    with pytest.raises(BadTable, match="too large"):
        read_offsets(path)


def test_no_half_file_is_left(tmp_path, offsets):
    (tmp_path / "folder").write_text("a file where a folder should be")
    with pytest.raises(BadOutput):
        write_parquet(tmp_path / "folder" / "offsets.parquet", offsets, OFFSET_COLUMNS)
    assert [path.name for path in tmp_path.iterdir()] == ["folder"]


def test_without_pyarrow_the_message_says_what_to_install(tmp_path, offsets, monkeypatch):
    monkeypatch.setitem(sys.modules, "pyarrow", None)  # as where it is not installed
    with pytest.raises(MissingExtra, match=r'pip install "regscan-press\[parquet\]"'):
        write_parquet(tmp_path / "offsets.parquet", offsets, OFFSET_COLUMNS)
    with pytest.raises(MissingExtra):
        read_offsets(tmp_path / "offsets.parquet")
