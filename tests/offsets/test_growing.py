"""A table grown in blocks is the table made at once."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from regscan.offsets import growing
from regscan.offsets.columns import MARK_COLUMNS, OFFSET_COLUMNS
from regscan.offsets.growing import GrowingTable
from regscan.offsets.rows import table_of
from regscan.offsets.table import as_written, read_marks, read_offsets, write_table

rows = st.lists(
    st.fixed_dictionaries(
        {
            "frame": st.text(st.characters(exclude_characters="\0"), max_size=140),
            "ink": st.sampled_from(["cyan", "a colour with a name longer than sixteen"]),
            "station": st.integers(1, 9),
            "lateral_mm": st.none() | st.floats(allow_nan=False),
            "note": st.text("abc ", max_size=300),
        }
    ),
    max_size=12,
)


@settings(deadline=None)
@given(st.lists(rows, max_size=5), st.integers(1, 7))
def test_grown_is_whole(parts, block):
    whole = table_of([row for part in parts for row in part], OFFSET_COLUMNS)
    before, growing.BLOCK = growing.BLOCK, block
    try:
        table = GrowingTable(OFFSET_COLUMNS)
        for part in parts:
            table.add(part)
        grown = table.whole()
    finally:
        growing.BLOCK = before
    assert grown.dtype.names == whole.dtype.names
    assert grown.dtype.itemsize <= whole.dtype.itemsize
    assert grown.dtype["status"] == whole.dtype["status"]
    for name in whole.dtype.names:
        np.testing.assert_array_equal(grown[name], whole[name])


def test_as_written_is_what_the_files_give_back(tmp_path):
    """So that a report made at once and one made later from the folder say the same."""
    rng = np.random.default_rng(5)
    offsets, marks = (
        table_of(
            (
                {
                    column.name: rng.normal(0, 0.3)
                    for column in columns
                    if column.dtype == "f8" and not column.name.endswith(("sd_mm", "sd_px"))
                }
                | {
                    "frame": f" {k}.png",
                    "ink": f"ink {k % 3}",
                    "status": "ok",
                    "station": k % 3 + 1,
                }
                | {"speed_m_min": None if k % 4 else 150.0, "note": 'a, "b"\r\nc'}
                for k in range(300)
            ),
            columns,
        )
        for columns in (OFFSET_COLUMNS, MARK_COLUMNS)
    )
    for table, columns, read in (
        (offsets, OFFSET_COLUMNS, read_offsets),
        (marks, MARK_COLUMNS, read_marks),
    ):
        write_table(tmp_path / "table.csv", table, columns)
        back = read(tmp_path / "table.csv")
        same = as_written(table, columns)
        for column in columns:
            np.testing.assert_array_equal(same[column.name], back[column.name], column.name)
