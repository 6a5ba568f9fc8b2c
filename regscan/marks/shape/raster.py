"""Exact area coverage of a polygon on a grid: how much of each cell its inside covers.

Every edge adds the signed area between itself and the right end of its row;
running sums along the rows turn that into coverage (the accumulation method of
outline-font rasterisers). Exact to rounding, so an outline's centre is kept.
"""

import numpy as np

from regscan.camera.camera import Camera
from regscan.marks.shape.outline import Outline, outline_length_px, signed_area, spread_of


def coverage(polygons: Outline, rows: int, cols: int) -> np.ndarray:
    """rows x cols float32 in 0..1 of an even-odd outline; holes must lie inside the body.

    polygons   each N x 2 (row, col) in cells from the grid's corner; they must lie within
               the grid.
    """
    body = max(polygons, key=lambda p: abs(signed_area(p)))
    paths = []
    for polygon in polygons:
        # Body and holes turn opposite ways, so that holes are taken away.
        wanted = 1.0 if polygon is body else -1.0
        paths.append(polygon if signed_area(polygon) * wanted > 0.0 else polygon[::-1])
    starts = np.concatenate(paths)
    ends = np.concatenate([np.roll(path, -1, axis=0) for path in paths])
    total = _steps(starts, ends, rows, cols + 2)
    return np.clip(np.abs(total.cumsum(axis=1)[:, :cols]), 0.0, 1.0).astype(np.float32)


def swelling(ink: np.ndarray, outline: Outline, camera: Camera, per_px: int) -> np.ndarray:
    """What every sample's coverage changes by per px of growth of the outline (px) that covers
    them; per_px samples a pixel on each axis."""
    slopes = np.stack(np.gradient(ink))
    edge = np.linalg.norm(slopes, axis=0)
    if camera.row_mm_per_px != camera.col_mm_per_px:
        steep = edge > 0.0
        edge[steep] *= spread_of((slopes[:, steep] / edge[steep]).T, camera)
    # Where edges meet, their slopes cancel in part: scale to the outline's true length.
    return np.asarray(edge * (outline_length_px(outline, camera) * per_px**2 / float(edge.sum())))


def _steps(starts: np.ndarray, ends: np.ndarray, rows: int, cols: int) -> np.ndarray:
    """rows x cols, what a running sum along the rows turns into coverage, of E edges (E x 2)."""
    down = starts[:, 0] < ends[:, 0]
    top_row, top_col = np.where(down[:, None], starts, ends).T
    low_row, low_col = np.where(down[:, None], ends, starts).T
    tall = low_row - top_row
    slope = np.divide(low_col - top_col, tall, out=np.zeros_like(tall), where=tall > 0.0)
    # Each edge cut at the rows' borders ...
    first = np.floor(top_row).astype(int)
    edge, row = _counted(first, np.ceil(low_row).astype(int) - first)
    top, bottom = np.maximum(row, top_row[edge]), np.minimum(row + 1.0, low_row[edge])
    at_top, at_bottom = (
        top_col[edge] + slope[edge] * (height - top_row[edge]) for height in (top, bottom)
    )
    left, right = np.minimum(at_top, at_bottom), np.maximum(at_top, at_bottom)
    height = np.where(down, 1.0, -1.0)[edge] * (bottom - top)
    # ... and spread over the cells it crosses there, and the one after.
    first = np.floor(left).astype(int)
    last = np.maximum(np.ceil(right).astype(int), first + 1)
    piece, cell = _counted(first, last - first + 1)
    before, here, after = (_right_of(cell + k, left[piece], right[piece]) for k in (-1, 0, 1))
    share = height[piece] * (after - 2.0 * here + before)
    return np.bincount(row[piece] * cols + cell, share, rows * cols).reshape(rows, cols)


def _right_of(border: np.ndarray, left: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Area between a slanted piece of edge, 1 high, and a cell border right of it; its second
    difference is what a running sum turns back into each cell's coverage."""
    within = np.clip(border, left, right) - left
    slanted = np.divide(
        within**2, 2.0 * (right - left), out=np.zeros_like(left), where=right > left
    )
    return np.asarray(slanted + np.maximum(border - right, 0.0))


def _counted(first: np.ndarray, counts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(which, number) of counts[k] whole numbers from first[k] on, for all k."""
    which = np.repeat(np.arange(len(first)), counts)
    start = np.cumsum(counts) - counts
    return which, first[which] + np.arange(len(which)) - start[which]
