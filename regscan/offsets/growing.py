"""A table that grows row by row and stays small: rows wait only until they fill a block."""

from collections.abc import Iterable

import numpy as np

from regscan.offsets.columns import Column
from regscan.offsets.rows import Row, table_of

BLOCK = 4096  # rows


class GrowingTable:
    """Rows in order; `whole` gives the one structured array of them all."""

    def __init__(self, columns: tuple[Column, ...]) -> None:
        self._columns = columns
        self._blocks: list[np.ndarray] = []
        self._waiting: list[Row] = []

    def add(self, rows: Iterable[Row]) -> None:
        """Add rows by column name, as for table_of."""
        self._waiting.extend(rows)
        if len(self._waiting) >= BLOCK:
            self._settle()

    def whole(self) -> np.ndarray:
        """All rows in one table; text as wide as its longest. The rows are handed over: once."""
        self._settle()
        table = np.empty(sum(map(len, self._blocks)), dtype=self._dtype())
        at = 0
        self._blocks.reverse()
        while self._blocks:  # each is freed when it was copied, so all is never there twice
            block = self._blocks.pop()
            table[at : at + len(block)] = block
            at += len(block)
        return table

    def _settle(self) -> None:
        self._blocks.append(table_of(self._waiting, self._columns))
        self._waiting = []

    def _dtype(self) -> np.dtype:
        names = [column.name for column in self._columns]
        widest = {
            name: max((block.dtype[name] for block in self._blocks), key=lambda d: d.itemsize)
            for name in names
        }
        return np.dtype(list(widest.items()))
