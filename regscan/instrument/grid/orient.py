"""Orient: a grid's nodes numbered along the web's axes, with a first guess of how it lies."""

import itertools

import numpy as np

from regscan.instrument.grid.seen import SeenGrid


def oriented(
    grid: SeenGrid, facing: np.ndarray, pitch_mm: float, radius_px: float
) -> tuple[np.ndarray, tuple[float, np.ndarray]]:
    """Nodes numbered along the web's axes from their middle, with a guess (log size, pose).

    A square grid looks alike in eight ways; the one nearest to the web's axes is taken.
    """
    nodes = (grid.nodes - np.rint(np.median(grid.nodes, axis=0))).astype(float)
    design = np.column_stack([np.ones(len(nodes)), nodes])
    found = np.linalg.lstsq(design, grid.places, rcond=None)[0]
    steps = found[1:]
    ways = [
        np.diag(signs)[list(order)]
        for order in itertools.permutations(range(2))
        for signs in itertools.product((1.0, -1.0), repeat=2)
    ]
    way = max(ways, key=lambda q: float(np.trace((q @ facing).T @ steps)))
    nodes = nodes @ way
    turn = facing.T @ (way.T @ steps)
    angle = np.arctan2(turn[1, 0] - turn[0, 1], turn[0, 0] + turn[1, 1])
    size = np.sqrt(abs(np.linalg.det(steps))) / pitch_mm
    pose = np.array([angle * radius_px, *found[0]])
    return nodes, (-radius_px * float(np.log(size)), pose)
