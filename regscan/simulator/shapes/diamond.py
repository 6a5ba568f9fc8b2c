"""Diamond: a filled rhombus on its diagonals."""

import math

import numpy as np

from regscan.job.layout import Diamond


def distance_mm(shape: Diamond, along: np.ndarray, across: np.ndarray) -> np.ndarray:
    """Signed distance from the nearest side's line, mm, negative inside."""
    half_along, half_across = shape.circumferential_mm / 2.0, shape.lateral_mm / 2.0
    height = half_along * half_across / math.hypot(half_along, half_across)
    share = np.abs(along) / half_along + np.abs(across) / half_across
    return np.asarray((share - 1.0) * height)


def reach_mm(shape: Diamond) -> float:
    """Half its longer diagonal, mm."""
    return max(shape.circumferential_mm, shape.lateral_mm) / 2.0
