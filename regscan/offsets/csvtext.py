"""A CSV file as columns of text, before anything in it is believed."""

import csv
import io
from dataclasses import dataclass
from pathlib import Path

from regscan.errors import BadTable, Problem
from regscan.offsets.columns import Column

LARGEST_BYTES = 1_000_000_000


@dataclass(frozen=True, slots=True)
class Cells:
    """The known columns of a CSV file, blanks stripped, and the line each row began on."""

    columns: dict[str, list[str]]
    lines: list[int]


def read_cells(path: Path, known: tuple[Column, ...]) -> Cells:
    """The text of every known column; columns nobody declared are passed over.

    Raises BadTable for a file that is no table: unreadable, not UTF-8, empty,
    another separator than the comma, a column twice, rows of the wrong length.
    """
    text = _text(path)
    try:
        header, rows, lines = _split(text)
    except csv.Error as fault:
        raise BadTable(path, Problem("", f"is not CSV ({fault})", "save it as CSV")) from None
    problems = _form_problems(header, rows, lines)
    if problems:
        raise BadTable(path, problems)
    places = {name: header.index(name) for name in (c.name for c in known) if name in header}
    columns = {name: [row[place].strip() for row in rows] for name, place in places.items()}
    return Cells(columns, lines)


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise BadTable(path, Problem("", "is over 1 GB", "name a table, or split the run"))
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadTable(path, Problem("", "is not UTF-8 text", "save it as CSV in UTF-8")) from None
    except (OSError, ValueError) as fault:  # ValueError: a name with a null character
        reason = getattr(fault, "strerror", None) or str(fault)
        cure = "check the name, the folder and the permissions"
        raise BadTable(path, Problem("", f"cannot be read ({reason})", cure)) from None


def _split(text: str) -> tuple[list[str], list[list[str]], list[int]]:
    """Header, rows that are not blank, and the line number each of these rows ends on."""
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    header = [name.strip() for name in next(reader, [])]
    numbered = [(row, reader.line_num) for row in reader if any(cell.strip() for cell in row)]
    return header, [row for row, _ in numbered], [line for _, line in numbered]


def _form_problems(header: list[str], rows: list[list[str]], lines: list[int]) -> list[Problem]:
    if not any(header):
        return [Problem("", "is empty", "give the table its header and rows")]
    if len(header) == 1 and any(mark in header[0] for mark in ";\t"):
        return [Problem("line 1", "the columns are not separated by commas", "save with commas")]
    problems = [
        Problem("line 1", f"column {name} is there {header.count(name)} times", "keep one of them")
        for name in dict.fromkeys(header)
        if name and header.count(name) > 1
    ]
    if not rows:
        problems.append(Problem("", "has a header but no rows", "measure first"))
    odd = [line for row, line in zip(rows, lines, strict=True) if len(row) != len(header)]
    if odd:
        what = f"not {len(header)} fields as in the header"
        problems.append(Problem(at_lines(odd), what, "put text with commas in quotes"))
    return problems


def at_lines(lines: list[int]) -> str:
    """Line numbers for a message: the first few, and how many more."""
    shown = ", ".join(str(line) for line in lines[:5])
    more = f" and {len(lines) - 5} more" if len(lines) > 5 else ""
    return f"line{'' if len(lines) == 1 else 's'} {shown}{more}"
