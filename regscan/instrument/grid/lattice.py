"""Lattice: which point is which node of a square grid, however it is turned, bent or holed.

From the point that looks most like the middle of a cross of neighbours the numbering
grows from neighbour to neighbour, each step predicted by the last: a picture that bends
or is seen askew changes its steps only slowly. Dust is off the lattice and is left out.
"""

from collections import deque
from collections.abc import Iterator

import numpy as np
from scipy.spatial import cKDTree

_NEAR = 0.22  # of a step: how far a neighbour may lie from where it is predicted
_SEEDS = 12
_FEWEST = 6


def number_nodes(points: np.ndarray) -> np.ndarray:
    """N x 2 float: line and number of each point, NaN for points that are no node.

    points   N x 2 (row, col) px.
    """
    best = np.full(points.shape, np.nan)
    if len(points) < _FEWEST:
        return best
    tree = cKDTree(points)
    reached = 0
    for seed, along, across in _seeds(points, tree):
        if not np.isnan(best[seed, 0]):
            continue
        grown = _grow(points, tree, seed, (along, across))
        count = int(np.isfinite(grown[:, 0]).sum())
        if count > reached:
            best, reached = grown, count
        if reached > len(points) / 2:
            break
    return _without_strays(points, best)


def _seeds(points: np.ndarray, tree: cKDTree) -> Iterator[tuple[int, np.ndarray, np.ndarray]]:
    """Points that sit in the middle of a cross of four, the neatest first, with two steps."""
    near = min(len(points), 9)
    _, neighbours = tree.query(points, k=near)
    neat = []
    for number, others in enumerate(neighbours):
        steps = points[others[1:]] - points[number]
        along = steps[0]
        sizes = np.linalg.norm(steps, axis=1)
        angle = np.abs(steps @ along) / np.maximum(sizes * sizes[0], 1e-9)
        aside = np.flatnonzero((angle < 0.6) & (sizes < 2.0 * sizes[0]))
        if not aside.size:
            continue
        across = steps[aside[0]]
        back = [np.linalg.norm(steps + step, axis=1).min() for step in (along, across)]
        neat.append((max(back) / sizes[0], number, along, across))
    neat.sort(key=lambda one: one[:2])
    for _, number, along, across in neat[:_SEEDS]:
        yield number, along, across


def _grow(
    points: np.ndarray, tree: cKDTree, seed: int, steps: tuple[np.ndarray, np.ndarray]
) -> np.ndarray:
    nodes = np.full(points.shape, np.nan)
    nodes[seed] = 0.0
    taken = {(0, 0)}
    waiting = deque([(seed, (0, 0), steps)])
    while waiting:
        point, node, own = waiting.popleft()
        for axis, sign in ((0, 1), (0, -1), (1, 1), (1, -1)):
            found = _neighbour(points, tree, nodes, point, sign * own[axis])
            if found is None:
                continue
            other, stride = found
            place = list(node)
            place[axis] += sign * stride
            if tuple(place) in taken:
                continue
            taken.add((place[0], place[1]))
            nodes[other] = place
            step = sign * (points[other] - points[point]) / stride
            new = (step, own[1]) if axis == 0 else (own[0], step)
            waiting.append((other, (place[0], place[1]), new))
    return nodes


def _neighbour(
    points: np.ndarray, tree: cKDTree, nodes: np.ndarray, point: int, step: np.ndarray
) -> tuple[int, int] | None:
    """The unnumbered point one step on, or two where one is missing, and how many steps."""
    size = float(np.linalg.norm(step))
    for stride in (1, 2):
        far, other = tree.query(points[point] + stride * step)
        if far < _NEAR * size:
            return (int(other), stride) if np.isnan(nodes[other, 0]) else None
    return None


def _without_strays(points: np.ndarray, nodes: np.ndarray) -> np.ndarray:
    """Drop points that do not lie where a smooth picture of the lattice has their node."""
    known = np.isfinite(nodes[:, 0])
    if known.sum() < _FEWEST:
        return np.full(points.shape, np.nan)
    for _ in range(4):
        used = np.flatnonzero(known)
        off, pitch = _off_smooth(nodes[used], points[used])
        limit = max(6.0 * float(np.median(off)), 0.02 * pitch)
        known[used[off > limit]] = False
        if not (off > limit).any() or known.sum() < _FEWEST:
            break
    return np.where(known[:, None], nodes, np.nan)


def _off_smooth(nodes: np.ndarray, points: np.ndarray) -> tuple[np.ndarray, float]:
    """Distance of each point from a polynomial picture of the nodes, and the pitch, px."""
    middle = nodes.mean(axis=0)
    scale = max(float(np.abs(nodes - middle).max()), 1.0)
    i, j = ((nodes - middle) / scale).T
    order = 3 if len(nodes) >= 30 else 2 if len(nodes) >= 14 else 1
    terms = [i**a * j**b for a in range(order + 1) for b in range(order + 1 - a)]
    design = np.stack(terms, axis=1)
    weight = np.ones(len(nodes))
    for _ in range(6):
        rows = design * weight[:, None]
        found = np.linalg.lstsq(rows, points * weight[:, None], rcond=None)[0]
        off = np.linalg.norm(points - design @ found, axis=1)
        weight = 1.0 / np.sqrt(1.0 + (off / (2.0 * np.median(off) + 1e-9)) ** 2)
    steps = found[[terms_of(order, 1, 0), terms_of(order, 0, 1)]] / scale
    return off, float(np.sqrt(abs(np.linalg.det(steps))))


def terms_of(order: int, a: int, b: int) -> int:
    """Where i^a j^b stands among the polynomial's terms."""
    pairs = [(x, y) for x in range(order + 1) for y in range(order + 1 - x)]
    return pairs.index((a, b))
