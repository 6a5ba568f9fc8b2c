"""A table that grows row by row and takes no more memory than its rows."""

from collections.abc import Iterable

import numpy as np

from regscan.offsets.columns import Column
from regscan.offsets.rows import Row, table_of

BLOCK = 4096  # rows that wait to be put into the table together
STATUS_LETTERS = 8  # of the longest one, doubtful
_GROWTH = 1.25


class GrowingTable:
    """Rows in order; `whole` gives the one structured array of them all."""

    def __init__(self, columns: tuple[Column, ...]) -> None:
        self._columns = columns
        self._waiting: list[Row] = []
        self._table = _tight(table_of([], columns))
        self._rows = 0

    def add(self, rows: Iterable[Row]) -> None:
        """Add rows by column name, as for table_of."""
        self._waiting.extend(rows)
        if len(self._waiting) >= BLOCK:
            self._settle()

    def whole(self) -> np.ndarray:
        """All rows in one table; text as wide as its longest. It is handed over: ask once."""
        self._settle()
        table, self._table = self._table, _tight(table_of([], self._columns))
        table.resize(self._rows, refcheck=False)
        self._rows = 0
        return table

    def _settle(self) -> None:
        block = _tight(table_of(self._waiting, self._columns))
        self._waiting = []
        wide = _wider(self._table.dtype, block.dtype)
        if wide != self._table.dtype:  # seldom: a longer text than all before
            self._table = self._table.astype(wide)
        end = self._rows + len(block)
        if end > len(self._table):  # in place, so that all is never there twice
            self._table.resize(int(end * _GROWTH), refcheck=False)
        self._table[self._rows : end] = block
        self._rows = end


def _tight(table: np.ndarray) -> np.ndarray:
    """The same rows with text only as wide as it is; a status may still be changed in place.

    Half of a table that leaves room for longer text is that room: most names are short.
    """

    def width(name: str) -> int:
        letters = np.char.str_len(table[name]).max(initial=1)
        return max(int(letters), STATUS_LETTERS if name == "status" else 1)

    types = {name: table.dtype[name] for name in table.dtype.names or ()}
    return table.astype(
        [(name, f"U{width(name)}" if kind.kind == "U" else kind) for name, kind in types.items()]
    )


def _wider(one: np.dtype, other: np.dtype) -> np.dtype:
    """The type that holds the texts of both."""
    names = one.names or ()
    widest = [(n, max(one[n], other[n], key=lambda d: d.itemsize)) for n in names]
    return np.dtype(widest)
