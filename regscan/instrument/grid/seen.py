"""SeenGrid: the nodes of a grid as one frame shows them."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class SeenGrid:
    """N nodes (dots, or corners of a chessboard) of one frame.

    frame       its file name.
    size        (rows, cols) px of the frame.
    nodes       N x 2 whole numbers: line and number along it, from any node.
    places      N x 2 (row, col) px, where green (or the only channel) shows them.
    red, blue   N x 2 the same in those channels; NaN where not found there; None for mono.
    pitch_px    distance of neighbouring nodes, the median.
    dot_px      diameter of a dot, the median; 0 for a chessboard.
    edge_px     softness of edges, one sigma, the median.
    """

    frame: str
    size: tuple[int, int]
    nodes: np.ndarray
    places: np.ndarray
    red: np.ndarray | None
    blue: np.ndarray | None
    pitch_px: float
    dot_px: float
    edge_px: float
