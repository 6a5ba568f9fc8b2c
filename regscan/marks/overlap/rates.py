"""Rates: how a scene's picture changes when marks move or grow, or the optics soften.

What a mark changes follows from the two colours on either side of its outline.
"""

import numpy as np

from regscan.marks.overlap.scene import Scene, softened
from regscan.marks.shape.stencil import SAMPLES

_SMALL = 3000  # pixels of a picture: larger ones gain nothing from being softened side by side


def put_rates(out: np.ndarray, scene: Scene, colours: np.ndarray, pixels: np.ndarray) -> None:
    """Put into `out`, C x (3M + 2) x N, how light changes at N pixels (places in the window), with
    colours[s] (S x C) for sets[s]: per px that each mark moves down the rows and along the columns,
    mark by mark; then per px that each grows all round; then per px^2 of variance that the optics
    are softer down and along.
    """
    count, window = scene.count, scene.window
    colours = colours.astype(np.float32)
    all_moved = np.zeros((len(out), 2, window.rows + 2, window.cols + 2), np.float32)
    index = np.empty((window.rows, window.cols), np.int32)
    inner = all_moved[:, :, 1:-1, 1:-1]
    for k, piece in enumerate(scene.reaches):
        own, growth = slice(2 * k, 2 * k + 2), 2 * count + k
        if piece.empty or not scene.edges[k].runs:
            out[:, own], out[:, growth] = 0.0, 0.0
            continue
        moves = _moves(scene, k, colours)
        rows, cols = piece.bottom - piece.top, piece.right - piece.left
        index.fill(rows * cols)
        index[piece.slices] = np.arange(rows * cols, dtype=np.int32).reshape(rows, cols)
        read = moves.take(index.ravel().take(pixels), axis=2, mode="clip")
        out[:, own], out[:, growth] = read[:, :2], read[:, 2]
        inner[:, :, *piece.slices] += moves[:, :2, :-1].reshape(-1, 2, rows, cols)
    # All marks moved together move the picture: half its second derivative is minus half the slope
    # of what that changes.
    across = window.cols + 2
    at = pixels + 2 * (pixels // window.cols) + across + 1
    flat = all_moved.reshape(len(out), 2, -1)
    for axis, step in enumerate((across, 1)):
        softer = flat[:, axis].take(at - step, axis=1) - flat[:, axis].take(at + step, axis=1)
        out[:, 3 * count + axis] = softer / 4.0


def _moves(scene: Scene, number: int, colours: np.ndarray) -> np.ndarray:
    """C x 3 x pixels of its reach and a last one, of zeros: the first of these rates."""
    mark, edge, piece = scene.marks[number], scene.edges[number], scene.reaches[number]
    size = piece.bottom - piece.top, piece.right - piece.left
    lookup = dict(zip(scene.sets, colours / SAMPLES**2, strict=True))
    steps = np.array([lookup[bits] - lookup[bits & ~(1 << mark.bit)] for bits, _ in edge.runs])
    rates = mark.stencil.rates[:, edge.which]
    at = (edge.rows // SAMPLES - piece.top) * size[1] + edge.cols // SAMPLES - piece.left
    # By set or by channel, whichever are fewer.
    by_set = len(steps) <= colours.shape[1]
    if by_set:
        parts = [(at[run], rates[:, run]) for _, run in edge.runs]
    else:
        counts = [run.stop - run.start for _, run in edge.runs]
        parts = [(at, rates * step) for step in np.repeat(steps, counts, axis=0).T]
    planes = np.zeros((len(parts), 3, size[0] * size[1] + 1), np.float32)
    for own, (places, values) in zip(planes, parts, strict=True):
        for plane, value in zip(own, values, strict=True):
            np.add.at(plane, places, value)
    # Softened at pixel pitch: good enough to know which way to step, how far.
    _soften(planes.reshape(len(parts) * 3, -1)[:, :-1].reshape(-1, *size), scene.softness_px)
    return np.tensordot(steps.T, planes, 1) if by_set else planes


def _soften(planes: np.ndarray, softness: tuple[float, float]) -> None:
    """Put K x rows x cols through the optics."""
    count, rows, cols = planes.shape
    if rows * cols > _SMALL:
        for plane in planes:
            plane[:] = softened(plane, softness)
        return
    # A few small pictures take a fifth of the time that they take one by one.
    beside = np.ascontiguousarray(planes.reshape(count, -1).T).reshape(rows, cols, count)
    planes[:] = softened(beside, softness).reshape(rows, cols, count).transpose(2, 0, 1)
