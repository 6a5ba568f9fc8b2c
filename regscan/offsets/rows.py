"""Rows of offsets.csv and marks.csv as structured arrays, by the columns' declaration."""

import math
from collections.abc import Iterable, Mapping
from typing import Protocol

import numpy as np

from regscan.marks.mark import Mark
from regscan.offsets.columns import MARK_COLUMNS, OFFSET_COLUMNS, Column
from regscan.offsets.offset import Offset

Row = Mapping[str, object]

UNKNOWN_STATION = 0
"""Station number of a table that names inks only; stations count from 1."""
SHORT = 16
"""Letters that every text column of a table can hold, or its declared width when smaller."""


class Place(Protocol):
    """Where and when a frame was taken, as regscan.recording.frame.FrameInfo says it."""

    @property
    def name(self) -> str: ...  # noqa: D102
    @property
    def time_s(self) -> float | None: ...  # noqa: D102
    @property
    def web_m(self) -> float | None: ...  # noqa: D102
    @property
    def speed_m_min(self) -> float | None: ...  # noqa: D102
    @property
    def camera(self) -> str: ...  # noqa: D102
    @property
    def edge(self) -> str: ...  # noqa: D102


def offset_table(rows: Iterable[tuple[Place, Offset]]) -> np.ndarray:
    """A structured array with OFFSET_COLUMNS: each offset with the frame it was seen in."""
    return table_of((offset_row(place, offset) for place, offset in rows), OFFSET_COLUMNS)


def mark_table(rows: Iterable[tuple[Place, Mark]]) -> np.ndarray:
    """A structured array with MARK_COLUMNS: each mark with the frame it was looked for in."""
    return table_of((mark_row(place, mark) for place, mark in rows), MARK_COLUMNS)


def table_of(rows: Iterable[Row], columns: tuple[Column, ...]) -> np.ndarray:
    """A structured array from rows by column name; what a row leaves out or gives as None
    is unknown: NaN, empty text, station 0."""
    wanted = [(c.name, _unknown(c), int(np.dtype(c.dtype).itemsize) // 4, c.dtype) for c in columns]
    cells = [
        tuple(_cell(row.get(name), unknown, width, dtype) for name, unknown, width, dtype in wanted)
        for row in rows
    ]
    longest = {
        column.name: max((len(str(row[place])) for row in cells), default=0)
        for place, column in enumerate(columns)
        if column.dtype.startswith("U")
    }
    return np.array(cells, dtype=fitted(columns, longest))


def offset_row(place: Place, offset: Offset) -> Row:
    """One row of offsets.csv: a colour's offset and the frame it was seen in."""
    return {
        "frame": place.name,
        "time_s": place.time_s,
        "web_m": place.web_m,
        "speed_m_min": place.speed_m_min,
        "camera": place.camera,
        "edge": offset.edge or place.edge,
        "station": offset.station,
        "ink": offset.ink,
        "status": offset.status,
        "circumferential_mm": offset.circumferential_mm,
        "lateral_mm": offset.lateral_mm,
        "circumferential_sd_mm": offset.circumferential_sd_mm,
        "lateral_sd_mm": offset.lateral_sd_mm,
        "note": offset.note,
    }


def mark_row(place: Place, mark: Mark) -> Row:
    """One row of marks.csv: where a mark was found in its frame and how it looked."""
    return {
        "frame": place.name,
        "camera": place.camera,
        "edge": mark.edge or place.edge,
        "ink": mark.ink,
        "status": mark.status,
        "row_px": mark.row_px,
        "col_px": mark.col_px,
        "row_sd_px": math.sqrt(mark.row_var),
        "col_sd_px": math.sqrt(mark.col_var),
        "flags": int(mark.flags),
        "contrast": mark.contrast,
        "edge_px": mark.edge_px,
        "area_ratio": mark.area_ratio,
        "misfit": mark.misfit,
        "edge_circumferential_um": mark.printing.edge_circumferential_um,
        "edge_lateral_um": mark.printing.edge_lateral_um,
        "roundness": mark.printing.roundness,
        "fill": mark.printing.fill,
        "slur_um": mark.printing.slur_um,
    }


def fitted(columns: tuple[Column, ...], longest: Mapping[str, int]) -> np.dtype:
    """The columns' type, long text only as wide as it is: full width would be 2 kB a row.

    longest   letters of the longest text in each text column.

    Short columns keep their width, so that a status may be changed in place.
    """

    def width(column: Column) -> int:
        declared = np.dtype(column.dtype).itemsize // 4
        return min(declared, max(longest.get(column.name, 0), SHORT))

    return np.dtype(
        [(c.name, f"U{width(c)}" if c.dtype.startswith("U") else c.dtype) for c in columns]
    )


def _unknown(column: Column) -> object:
    if column.dtype == "f8":
        return math.nan
    return UNKNOWN_STATION if column.dtype == "i4" else ""


def _cell(value: object, unknown: object, width: int, dtype: str) -> object:
    if value is None:
        return unknown
    if dtype.startswith("U") and len(str(value)) > width:
        # numpy would cut the end off, where the numbers of frame names stand.
        return "..." + str(value)[-(width - 3) :]
    return value
