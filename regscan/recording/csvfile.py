"""A CSV file that people or presses write: its rows as text, its mistakes with their lines."""

import csv
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from regscan.errors import BadInput, Problem
from regscan.tomlfile import near_files, shown, suggest

LARGEST_BYTES = 500_000_000
SHOWN = 10


@dataclass(frozen=True, slots=True)
class Sheet:
    """The columns as the header names them, and (line in the file, text by column) per row."""

    columns: tuple[str, ...]
    rows: tuple[tuple[int, dict[str, str]], ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """Which columns a file must have, and which it may have; others are kept but not used."""

    needed: tuple[str, ...]
    known: tuple[str, ...]


def read_sheet(path: Path, error: type[BadInput], layout: Layout) -> Sheet:
    """The rows of a CSV file with a header. Raises `error` when it is not one."""
    lines = _lines(path, error)
    try:
        records = [
            (number, [cell.strip() for cell in cells])
            for number, cells in _numbered(lines)
            if any(cell.strip() for cell in cells)
        ]
    except csv.Error as fault:
        raise error(path, Problem("", f"is not a CSV file ({fault})", _form(layout))) from None
    if not records:
        raise error(path, Problem("", "is empty", _form(layout)))
    columns = records[0][1]
    problems = list(_header_problems(columns, layout))
    if problems:
        raise error(path, problems)
    wrong = [
        Problem(f"line {line}", f"has {len(cells)} fields, the header {len(columns)}", "mend it")
        for line, cells in records[1:]
        if len(cells) != len(columns)
    ]
    if wrong:
        raise error(path, capped(wrong))
    rows = ((line, dict(zip(columns, cells, strict=True))) for line, cells in records[1:])
    return Sheet(tuple(columns), tuple(rows))


def _numbered(lines: Sequence[str]) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(lines)
    for cells in reader:
        yield reader.line_num, cells


def _lines(path: Path, error: type[BadInput]) -> list[str]:
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise error(path, Problem("", "is far too large for a table", "thin it out"))
        text = path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        cure = "save it as CSV text in UTF-8, not as a spreadsheet"
        raise error(path, Problem("", "is not UTF-8 text", cure)) from None
    except FileNotFoundError:
        near = near_files(path)
        cure = f"did you mean {near}?" if near else "check the name and the folder"
        raise error(path, Problem("", "there is no such file", cure)) from None
    except (OSError, ValueError) as fault:  # ValueError: a name with a null character
        reason = getattr(fault, "strerror", None) or str(fault)
        cure = "check the name and the permissions"
        raise error(path, Problem("", f"cannot be read ({reason})", cure)) from None
    return text.splitlines()


def _form(layout: Layout) -> str:
    return f"begin with a header line such as {','.join(layout.needed)}"


def _header_problems(columns: list[str], layout: Layout) -> Iterator[Problem]:
    if len(columns) == 1 and ";" in columns[0]:
        cure = "separate columns by commas and write decimals with a point"
        yield Problem("line 1", "separates its columns by semicolons", cure)
        return
    if any(_is_number(column) for column in columns):
        yield Problem("line 1", f"is no header: {shown(','.join(columns))}", _form(layout))
        return
    for column in layout.needed:
        if column not in columns:
            near = suggest(column, [c for c in columns if c and c not in layout.known])
            cure = f"name the column {column}" + (f" ({near})" if "mean" in near else "")
            yield Problem("line 1", f"has no column {column}", cure)
    for column in sorted({c for c in columns if columns.count(c) > 1 and c in layout.known}):
        yield Problem("line 1", f"has two columns {column}", "keep one")


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def number(text: str) -> float:
    """A finite number from its text. Raises ValueError with what is wrong with it."""
    try:
        value = float(text.replace("_", "?"))  # Python's 1_000 is not a number elsewhere
    except ValueError:
        raise ValueError(f"{shown(text)} is not a number") from None
    if not math.isfinite(value):
        raise ValueError(f"{shown(text)} is not a finite number")
    return value


def capped(problems: Sequence[Problem], most: int = SHOWN) -> list[Problem]:
    """The first problems, and how many more there are."""
    if len(problems) <= most:
        return list(problems)
    return [*problems[:most], Problem("", f"and {len(problems) - most} more", "")]
