"""Exact area coverage of a polygon on a grid: how much of each cell its inside covers.

Every edge adds the signed area between itself and the right end of its row;
running sums along the rows turn that into coverage (the accumulation method of
outline-font rasterisers). Exact to rounding, so an outline's centre is kept.
"""

import math

import numpy as np

from regscan.marks.shape.outline import Outline, signed_area


def coverage(polygons: Outline, rows: int, cols: int) -> np.ndarray:
    """rows x cols float32 in 0..1 of an even-odd outline; holes must lie inside the body.

    polygons   each N x 2 (row, col) in cells from the grid's corner; they must lie within
               the grid.
    """
    body = max(polygons, key=lambda p: abs(signed_area(p)))
    total = np.zeros((rows, cols + 2))
    for polygon in polygons:
        # Body and holes turn opposite ways, so that holes are taken away.
        wanted = 1.0 if polygon is body else -1.0
        path = polygon if signed_area(polygon) * wanted > 0.0 else polygon[::-1]
        for start, end in zip(path, np.roll(path, -1, axis=0), strict=True):
            _add_edge(total, start, end)
    return np.clip(np.abs(total.cumsum(axis=1)[:, :cols]), 0.0, 1.0).astype(np.float32)


def _add_edge(total: np.ndarray, start: np.ndarray, end: np.ndarray) -> None:
    if start[0] == end[0]:
        return
    sign = 1.0 if start[0] < end[0] else -1.0
    (row0, col0), (row1, col1) = (
        (map(float, start), map(float, end)) if sign > 0 else (map(float, end), map(float, start))
    )
    slope = (col1 - col0) / (row1 - row0)
    for row in range(math.floor(row0), math.ceil(row1)):
        top, bottom = max(row, row0), min(row + 1.0, row1)
        if bottom > top:
            left, right = col0 + slope * (top - row0), col0 + slope * (bottom - row0)
            _add_within_row(total[row], min(left, right), max(left, right), sign * (bottom - top))


def _add_within_row(line: np.ndarray, left: float, right: float, height: float) -> None:
    """A slanted piece of edge inside one row: spread its height over the cells it crosses."""
    first, last = math.floor(left), max(math.ceil(right), math.floor(left) + 1)
    if last == first + 1:
        mean = (left + right) / 2.0 - first
        line[first] += height * (1.0 - mean)
        line[first + 1] += height * mean
        return
    # Area right of the edge up to each cell border; its second difference is what a
    # running sum turns back into each cell's coverage.
    borders = np.arange(first, last + 2, dtype=float)
    area = 0.5 * (np.clip(borders, left, right) - left) ** 2 / (right - left)
    area += np.maximum(borders - right, 0.0)
    line[first : last + 1] += height * np.diff(np.diff(area), prepend=0.0)
