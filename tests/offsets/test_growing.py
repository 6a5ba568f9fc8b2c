"""A table grown in blocks is the table made at once."""

from hypothesis import given, settings
from hypothesis import strategies as st

from regscan.offsets import growing
from regscan.offsets.columns import OFFSET_COLUMNS
from regscan.offsets.growing import GrowingTable
from regscan.offsets.rows import table_of

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
    assert grown.dtype == whole.dtype
    assert grown.tobytes() == whole.tobytes()
