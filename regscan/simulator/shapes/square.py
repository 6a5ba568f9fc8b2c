"""Square: a filled square."""

import math

import numpy as np

from regscan.job.layout import Square
from regscan.simulator.shapes.bar import rectangle_mm


def distance_mm(shape: Square, along: np.ndarray, across: np.ndarray) -> np.ndarray:
    """Signed distance from the square, mm, negative inside."""
    return rectangle_mm(along, across, shape.side_mm, shape.side_mm)


def reach_mm(shape: Square) -> float:
    """Half its diagonal, mm."""
    return shape.side_mm / math.sqrt(2.0)
