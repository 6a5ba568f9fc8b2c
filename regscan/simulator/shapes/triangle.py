"""Triangle: filled, equilateral, about its centroid; one corner along before turning."""

import math

import numpy as np

from regscan.job.layout import Triangle


def distance_mm(shape: Triangle, along: np.ndarray, across: np.ndarray) -> np.ndarray:
    """Signed distance from the nearest side's line, mm, negative inside."""
    inner_radius = shape.side_mm / (2.0 * math.sqrt(3.0))
    slanted = 0.5 * along + 0.5 * math.sqrt(3.0) * np.abs(across)
    return np.asarray(np.maximum(-along, slanted) - inner_radius)


def reach_mm(shape: Triangle) -> float:
    """From the centroid to a corner, mm."""
    return shape.side_mm / math.sqrt(3.0)
