"""offsets.csv and marks.csv: written whole, read back, or taken from somebody else's tool."""

import csv
import io
import math
from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np

from regscan.offsets.columns import MARK_COLUMNS, OFFSET_COLUMNS, Column
from regscan.offsets.csvtext import read_cells
from regscan.offsets.parse import parse_marks, parse_offsets
from regscan.offsets.rows import UNKNOWN_STATION, mark_table, offset_table, table_of
from regscan.wholefile import write_whole

__all__ = [
    "mark_table",
    "offset_table",
    "read_marks",
    "read_offsets",
    "table_of",
    "write_table",
]

ROWS_AT_ONCE = 8192  # turned into text together, so that a long table does not fill the memory


def write_table(path: Path, table: np.ndarray, columns: tuple[Column, ...]) -> None:
    """Write a structured array as CSV, whole or not at all.

    The header and its order come from `columns`, decimals too; unknown (NaN, an
    unknown station) is an empty field, never zero. Raises BadOutput.
    """
    write_whole(path, _csv_parts(table, columns))


def as_written(table: np.ndarray, columns: tuple[Column, ...]) -> np.ndarray:
    """The table as it comes back from the file that write_table makes: rounded, in place."""
    for start in range(0, len(table), ROWS_AT_ONCE):
        part = table[start : start + ROWS_AT_ONCE]
        for column in columns:
            texts = _texts(part[column.name], column)
            if column.dtype == "f8":
                part[column.name] = [float(text) if text else math.nan for text in texts]
            elif column.dtype.startswith("U"):
                part[column.name] = [text.strip() for text in texts]
    return table


def _csv_parts(table: np.ndarray, columns: tuple[Column, ...]) -> Iterator[str]:
    """The header and the rows as text, some thousand rows at a time."""
    yield _csv_text([[column.name for column in columns]])
    for start in range(0, len(table), ROWS_AT_ONCE):
        part = table[start : start + ROWS_AT_ONCE]
        yield _csv_text(zip(*(_texts(part[c.name], c) for c in columns), strict=True))


def _csv_text(rows: Iterable[Iterable[str]]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue()


def _texts(values: np.ndarray, column: Column) -> list[str]:
    if column.dtype == "f8":
        return [f"{v:.{column.decimals}f}" if math.isfinite(v) else "" for v in values.tolist()]
    if column.name == "station":
        return ["" if v == UNKNOWN_STATION else str(v) for v in values.tolist()]
    # A lone carriage return ends a line for some readers, and csv does not quote it.
    return [str(v).replace("\r", " ") for v in values.tolist()]


def read_offsets(path: Path) -> np.ndarray:
    """offsets.csv, or offsets.parquet, as a structured array with OFFSET_COLUMNS.

    A table measured elsewhere may leave columns out: frame, ink and one of
    circumferential_mm and lateral_mm must be there, what else is missing is
    unknown (NaN, "", station 0) and reduces the later answers; without a status
    column, rows with an offset are "ok" and the others "missing". Columns that
    regscan does not know are passed over.

    Raises BadTable with every problem: a column that must be there, text for a
    number, an unknown status or edge, negative doubt or speed, a row whose status
    contradicts its numbers, one colour twice in a frame. Parquet needs pyarrow; without
    it, MissingExtra.
    """
    if path.suffix.lower() == ".parquet":
        from regscan.offsets.parquet import read_parquet_offsets

        return read_parquet_offsets(path)
    return parse_offsets(path, read_cells(path, OFFSET_COLUMNS))


def read_marks(path: Path) -> np.ndarray:
    """marks.csv as a structured array with MARK_COLUMNS; raises BadTable with every problem."""
    return parse_marks(path, read_cells(path, MARK_COLUMNS))
