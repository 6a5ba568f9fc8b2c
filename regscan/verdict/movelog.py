"""moves.csv: the moves that were made, as the people at the press wrote them down.

Columns: `station` (its number) or `ink`, `axis`, `steps` or `move_mm` (signed as
corrections.csv is: + retards, + is toward the drive side), and where the move was made
while frames were taken, `web_m` or `time_s`. In the order in which they were made.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from regscan.errors import BadTable, Problem
from regscan.job.job import AXES, Axis, Job, Station
from regscan.offsets.columns import Column
from regscan.offsets.csvtext import Cells, read_cells
from regscan.tomlfile import shown, suggest

COLUMNS = (
    Column("station", "i4", "number of the station, counted from the unwind"),
    Column("ink", "U64", "its ink, instead of or beside the number"),
    Column("axis", "U16", "circumferential or lateral"),
    Column("steps", "i4", "steps of the actuator, signed as in corrections.csv"),
    Column("move_mm", "f8", "the move in mm, instead of or beside the steps"),
    Column("web_m", "f8", "web position at the camera when it was made"),
    Column("time_s", "f8", "or the time, on the clock of the frames"),
)


@dataclass(frozen=True, slots=True)
class Made:
    """One move that was made. web_m and time_s: None where not noted."""

    line: int
    station: int
    ink: str
    axis: Axis
    move_mm: float
    steps: int
    web_m: float | None = None
    time_s: float | None = None


def read_moves(path: Path, job: Job) -> tuple[Made, ...]:
    """The moves of a file. Raises BadTable with every mistake and its line."""
    cells = read_cells(path, COLUMNS)
    reader = _Reader(cells, job)
    made = [reader.move(row) for row in range(len(cells.lines))]
    if reader.problems:
        raise BadTable(path, reader.problems)
    return tuple(one for one in made if one)


class _Reader:
    """Reads row by row and keeps every problem met."""

    def __init__(self, cells: Cells, job: Job) -> None:
        self.cells, self.job = cells, job
        self.problems = list(self._columns())

    def _columns(self) -> Iterator[Problem]:
        have = self.cells.columns
        for needed in (("station", "ink"), ("axis",), ("steps", "move_mm")):
            if not set(needed) & set(have):
                cure = "add it to the first line"
                yield Problem("", f"has no column {' or '.join(needed)}", cure)

    def say(self, row: int, column: str, what: str, cure: str) -> None:
        self.problems.append(Problem(f"line {self.cells.lines[row]}, {column}", what, cure))

    def text(self, row: int, column: str) -> str:
        values = self.cells.columns.get(column)
        return values[row] if values else ""

    def number(self, row: int, column: str) -> float | None:
        text = self.text(row, column)
        if not text:
            return None
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            self.say(row, column, f"{shown(text)} is no number", "write it like 0.12")
            return None
        return value

    def move(self, row: int) -> Made | None:
        before = len(self.problems)
        station, axis = self.station(row), self.axis(row)
        size = self.size(row, station, axis) if station and axis else None
        web, time = self.number(row, "web_m"), self.number(row, "time_s")
        if len(self.problems) > before or not (station and axis and size):
            return None
        line = self.cells.lines[row]
        return Made(line, station.number, station.ink, axis, *size, web, time)

    def station(self, row: int) -> Station | None:
        """The station named by number or ink, where both are given by both alike."""
        by_number = {str(s.number): s for s in self.job.press.stations}
        by_ink = {s.ink: s for s in self.job.press.stations}
        found = [
            self._known(row, "station", by_number),
            self._known(row, "ink", by_ink),
        ]
        named = [station for station in found if station]
        if len(named) == 2 and named[0] != named[1]:
            what = f"station {named[0].number} prints {named[0].ink}, not {named[1].ink}"
            self.say(row, "ink", what, "correct the station or the ink")
        elif not named and not (self.text(row, "station") or self.text(row, "ink")):
            self.say(row, "station", "is empty", "write the station's number or its ink")
        return named[0] if named else None

    def _known(self, row: int, column: str, known: Mapping[str, Station]) -> Station | None:
        text = self.text(row, column)
        if text and text not in known:
            self.say(row, column, f"{shown(text)} is not on this press", suggest(text, known))
        return known.get(text)

    def axis(self, row: int) -> Axis | None:
        text = self.text(row, "axis")
        for axis in AXES:
            if text == axis:
                return axis
        if "axis" in self.cells.columns:
            self.say(row, "axis", f"cannot be {shown(text)}", suggest(text, AXES))
        return None

    def size(self, row: int, station: Station, axis: Axis) -> tuple[float, int] | None:
        """(mm, steps); what is not given follows from the job's step."""
        step = station.steps.of(axis)
        move, steps = self.number(row, "move_mm"), self.number(row, "steps")
        if steps is not None and steps != round(steps):
            self.say(row, "steps", f"{steps:g} is no whole number", "write whole steps")
            return None
        if move is None and steps is None:
            if {"steps", "move_mm"} & set(self.cells.columns):
                self.say(row, "steps", "is empty", "write the steps or the mm of the move")
            return None
        if move is not None and steps is not None and abs(move - steps * step) > step:
            what = f"{steps:g} steps of {step:g} mm are not {move:g} mm"
            self.say(row, "move_mm", what, "correct one of them, or the step in the job file")
            return None
        mm = move if move is not None else (steps or 0.0) * step
        return round(mm, 9), round(mm / step) if steps is None else int(steps)
