"""offsets.parquet and marks.parquet: the same tables in Apache Parquet, their meanings inside.

Needs pyarrow, which regscan asks for only here (the extra `parquet`). Numbers keep every
digit, where CSV rounds to the column's decimals; unknown is null, never zero and never NaN.
"""

import json
import math
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from regscan.errors import BadTable, MissingExtra, Problem
from regscan.offsets.columns import OFFSET_COLUMNS, Column
from regscan.offsets.csvtext import LARGEST_BYTES, Cells
from regscan.offsets.parse import parse_offsets
from regscan.offsets.rows import UNKNOWN_STATION
from regscan.wholefile import write_whole

if TYPE_CHECKING:
    import pyarrow

FORMAT = 1
KEY = b"regscan"
LARGEST_ROWS = 20_000_000  # a gigabyte of CSV holds about half as many

# The endings of column names, longest first, and the units they stand for.
UNITS = {"_m_min": "m/min", "_um": "um", "_mm": "mm", "_px": "px", "_s": "s", "_m": "m"}


def need_pyarrow() -> None:
    """Say at once when pyarrow is not there. Raises MissingExtra."""
    try:
        import pyarrow  # noqa: F401
    except ImportError:
        raise MissingExtra("Parquet", "pyarrow", "parquet") from None


def unit_of(column: Column) -> str:
    """The unit that a column's name ends with; "" for text, counts and shares."""
    if column.dtype != "f8":
        return ""
    return next((unit for end, unit in UNITS.items() if column.name.endswith(end)), "")


def sign_of(column: Column) -> str:
    """What a value above zero means, such as "+ is late"; "" where a column has no sign."""
    words = column.meaning.partition("+ ")[2]
    return f"+ {words}" if words else ""


def write_parquet(path: Path, table: np.ndarray, columns: tuple[Column, ...]) -> None:
    """Write a structured array as Parquet, whole or not at all.

    Each field carries `unit`, `meaning` and `sign`; the file's own metadata holds the same
    for all columns as JSON under the key `regscan`. Raises BadOutput, MissingExtra.
    """
    need_pyarrow()
    import pyarrow
    import pyarrow.parquet

    fields = [_field(column) for column in columns]
    schema = pyarrow.schema(fields, metadata={KEY: _description(path.stem, columns)})
    arrays = [_array(table[c.name], c, f.type) for c, f in zip(columns, fields, strict=True)]
    held = pyarrow.BufferOutputStream()
    pyarrow.parquet.write_table(
        pyarrow.Table.from_arrays(arrays, schema=schema), held, compression="zstd"
    )
    write_whole(path, held.getvalue().to_pybytes())


def _field(column: Column) -> "pyarrow.Field":
    import pyarrow

    kind = {"f8": pyarrow.float64(), "i4": pyarrow.int32()}.get(column.dtype, pyarrow.string())
    return pyarrow.field(column.name, kind, metadata=_about(column))


def _about(column: Column) -> dict[str, str]:
    about = {"meaning": column.meaning, "unit": unit_of(column), "sign": sign_of(column)}
    return {name: words for name, words in about.items() if words}


def _description(name: str, columns: tuple[Column, ...]) -> bytes:
    told = [{"name": column.name, **_about(column)} for column in columns]
    document = {"format": FORMAT, "table": name, "unknown": "null", "columns": told}
    return json.dumps(document, ensure_ascii=False).encode()


def _array(values: np.ndarray, column: Column, kind: Any) -> "pyarrow.Array":
    import pyarrow

    if column.dtype == "f8":
        return pyarrow.array(values, kind, mask=~np.isfinite(values))
    if column.name == "station":
        return pyarrow.array(values, kind, mask=values == UNKNOWN_STATION)
    return pyarrow.array(values.tolist(), kind)


def read_parquet_offsets(path: Path) -> np.ndarray:
    """A Parquet file as a structured array with OFFSET_COLUMNS, held to the rules of read_offsets.

    Columns may be left out and of any type that holds the same values; null and NaN are
    unknown. Raises BadTable with every problem, its place in rows counted from 1.
    """
    need_pyarrow()
    table = _opened(path)
    columns = {
        column.name: [_text(value) for value in table.column(column.name).to_pylist()]
        for column in OFFSET_COLUMNS
        if column.name in table.column_names
    }
    try:
        return parse_offsets(path, Cells(columns, list(range(1, table.num_rows + 1))))
    except BadTable as bad:
        raise BadTable(path, [_in_rows(problem) for problem in bad.problems]) from None


def _opened(path: Path) -> "pyarrow.Table":
    """The known columns of the file. Raises BadTable."""
    import pyarrow
    import pyarrow.parquet

    try:
        with pyarrow.parquet.ParquetFile(path) as file:
            _check_size(path, file)
            names = [c.name for c in OFFSET_COLUMNS if c.name in file.schema_arrow.names]
            return file.read(columns=names)
    except OSError as fault:  # also of pyarrow: a page that cannot be unpacked
        reason = fault.strerror or str(fault)
        cure = "check the name, the folder and the permissions, or write it again"
        raise BadTable(path, Problem("", f"cannot be read ({reason})", cure)) from None
    except pyarrow.ArrowException as fault:
        what = f"is no Parquet file that can be read ({str(fault)[:120]})"
        raise BadTable(path, Problem("", what, "write it again, or give the CSV")) from None


def _check_size(path: Path, file: "pyarrow.parquet.ParquetFile") -> None:
    """Refuse, before memory is taken, what would not be accepted as CSV either."""
    about = file.metadata
    size = sum(about.row_group(k).total_byte_size for k in range(about.num_row_groups))
    if about.num_rows > LARGEST_ROWS or size > LARGEST_BYTES:
        what = f"is too large ({about.num_rows} rows, {size / 1e9:.1f} GB unpacked)"
        raise BadTable(path, Problem("", what, "name a table of offsets, or split the run"))
    if not about.num_rows:
        raise BadTable(path, Problem("", "has columns but no rows", "measure first"))


def _text(value: object) -> str:
    """As the field would stand in CSV, with every digit kept."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    return str(value).strip()


def _in_rows(problem: Problem) -> Problem:
    if "column" in problem.what and problem.place == "line 1":
        return replace(problem, place="")
    return replace(problem, place=problem.place.replace("line", "row", 1))
