"""Columns of text to structured arrays; every problem is gathered before one error is raised."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import get_args

import numpy as np

from regscan.errors import BadTable, Problem
from regscan.marks.mark import Status
from regscan.offsets.columns import MARK_COLUMNS, OFFSET_COLUMNS, Column
from regscan.offsets.csvtext import Cells, at_lines
from regscan.offsets.rows import UNKNOWN_STATION, fitted

OFFSETS_NEED = ("frame", "ink")
VALUES = ("circumferential_mm", "lateral_mm")
NEVER_NEGATIVE = (
    "speed_m_min",
    "station",
    "circumferential_sd_mm",
    "lateral_sd_mm",
    "flags",
    "row_sd_px",
    "col_sd_px",
)
EDGES = ("", "operator", "drive")


@dataclass(frozen=True, slots=True)
class _Complaints:
    """What is wrong with the table so far."""

    lines: list[int]
    problems: list[Problem] = field(default_factory=list)

    def about(self, texts: list[str], wrong: Callable[[str], bool], what: str, cure: str) -> None:
        """One problem for all rows of a column wrong in one way; {} in `what` is the first."""
        where = [(at, text) for at, text in zip(self.lines, texts, strict=True) if wrong(text)]
        if where:
            said = what.format(repr(where[0][1][:40]))
            self.problems.append(Problem(at_lines([at for at, _ in where]), said, cure))


def parse_offsets(path: Path, cells: Cells) -> np.ndarray:
    """OFFSET_COLUMNS from text; raises BadTable. What may be left out: see read_offsets."""
    wrong = _Complaints(cells.lines, _missing(cells, OFFSETS_NEED))
    if not any(name in cells.columns for name in VALUES):
        cure = "add circumferential_mm, lateral_mm or both, in mm"
        wrong.problems.append(Problem("line 1", "no column holds an offset", cure))
    table = _filled(cells, OFFSET_COLUMNS, wrong)
    if "status" not in cells.columns:
        table["status"] = np.where(_has_offset(table), "ok", "missing")
    if not wrong.problems:
        wrong.problems.extend(_contradictions(table, cells) + _twice(table, cells))
    if wrong.problems:
        raise BadTable(path, wrong.problems)
    return table


def parse_marks(path: Path, cells: Cells) -> np.ndarray:
    """MARK_COLUMNS from text; every column must be there. Raises BadTable."""
    wrong = _Complaints(cells.lines, _missing(cells, [c.name for c in MARK_COLUMNS]))
    table = _filled(cells, MARK_COLUMNS, wrong)
    if wrong.problems:
        raise BadTable(path, wrong.problems)
    return table


def _missing(cells: Cells, names: Sequence[str]) -> list[Problem]:
    return [
        Problem("line 1", f"column {name} is missing", "add it; see docs/run_table.md")
        for name in names
        if name not in cells.columns
    ]


def _filled(cells: Cells, columns: tuple[Column, ...], wrong: _Complaints) -> np.ndarray:
    """The table, unknown where nothing is given; what cannot be read goes to `wrong`."""
    longest = {name: max(map(len, texts), default=0) for name, texts in cells.columns.items()}
    table = np.zeros(len(cells.lines), dtype=fitted(columns, longest))
    for column in columns:
        texts = cells.columns.get(column.name)
        if texts is None:
            if column.dtype == "f8":
                table[column.name] = math.nan
        elif column.dtype.startswith("U"):
            _check_words(column, texts, wrong)
            table[column.name] = texts
        else:
            table[column.name] = _numbers(column, texts, wrong)
    return table


def _check_words(column: Column, texts: list[str], wrong: _Complaints) -> None:
    name, width = column.name, np.dtype(column.dtype).itemsize // 4
    if name in OFFSETS_NEED:
        wrong.about(texts, lambda text: not text, f"{name} is empty", f"name the {name}")
    if name in (*OFFSETS_NEED, "camera"):
        what = f"{name} {{}} ... is longer than {width} letters"
        wrong.about(texts, lambda text: len(text) > width, what, "shorten it")
    allowed = {"status": get_args(Status), "edge": EDGES}.get(name)
    if allowed:
        cure = "write " + " or ".join(word or "nothing" for word in allowed)
        wrong.about(texts, lambda text: text not in allowed, f"{name} {{}} is unknown", cure)


def _numbers(column: Column, texts: list[str], wrong: _Complaints) -> np.ndarray:
    """Numbers of one column; unknown for an empty field and for what is no number."""
    parse = _whole if column.dtype == "i4" else _real
    values = {text: parse(text) for text in set(texts)}
    kind = "whole number" if column.dtype == "i4" else "number"
    cure = "write it with a decimal point, or leave it empty where it is not known"
    what = f"{column.name} {{}} is not a {kind}"
    wrong.about(texts, lambda text: bool(text) and math.isnan(values[text]), what, cure)
    if column.name in NEVER_NEGATIVE:
        what = f"{column.name} {{}} is below zero"
        wrong.about(texts, lambda text: values[text] < 0, what, "check the sign")
    array = np.array([values[text] for text in texts], dtype=np.float64)
    return np.nan_to_num(array, nan=UNKNOWN_STATION) if column.dtype == "i4" else array


def _real(text: str) -> float:
    """The number, or NaN for anything that is not a plain finite one ("1_0", "nan", "inf")."""
    try:
        value = float(text) if "_" not in text else math.nan
    except ValueError:
        return math.nan
    return value if math.isfinite(value) else math.nan


def _whole(text: str) -> float:
    value = _real(text)
    return value if value == value // 1 and abs(value) < 2**31 else math.nan


def _has_offset(table: np.ndarray) -> np.ndarray:
    has: np.ndarray = np.isfinite(table["circumferential_mm"]) | np.isfinite(table["lateral_mm"])
    return has


def _contradictions(table: np.ndarray, cells: Cells) -> list[Problem]:
    lines, has, missing = np.array(cells.lines), _has_offset(table), table["status"] == "missing"
    full, bare = lines[missing & has].tolist(), lines[~missing & ~has].tolist()
    found = []
    if full:
        cure = "leave the numbers of a missing colour empty"
        found.append(Problem(at_lines(full), "status is missing but there is an offset", cure))
    if bare:
        cure = "write missing, or fill in the offset"
        found.append(Problem(at_lines(bare), "status needs an offset but there is none", cure))
    return found


def _twice(table: np.ndarray, cells: Cells) -> list[Problem]:
    """Rows that name a frame, camera, edge and ink an earlier row has named already."""
    keys = table[["frame", "camera", "edge", "ink"]].tolist()
    seen: set[tuple[str, ...]] = set()
    again = []
    for key, line in zip(keys, cells.lines, strict=True):
        if key in seen:
            again.append(line)
        seen.add(key)
    if not again:
        return []
    cure = "keep one row per frame, camera, edge and ink"
    return [Problem(at_lines(again), "the colour has a row already in this frame", cure)]
