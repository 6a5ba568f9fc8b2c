"""Bar: a filled rectangle, long across the web before turning."""

import math

import numpy as np

from regscan.job.layout import Bar


def rectangle_mm(
    along: np.ndarray, across: np.ndarray, length_mm: float, width_mm: float
) -> np.ndarray:
    """Signed distance from a rectangle of length_mm along and width_mm across."""
    over_along = np.abs(along) - length_mm / 2.0
    over_across = np.abs(across) - width_mm / 2.0
    outside = np.hypot(np.maximum(over_along, 0.0), np.maximum(over_across, 0.0))
    inside = np.minimum(np.maximum(over_along, over_across), 0.0)
    return np.asarray(outside + inside)


def distance_mm(shape: Bar, along: np.ndarray, across: np.ndarray) -> np.ndarray:
    """Signed distance from the rectangle, mm, negative inside."""
    return rectangle_mm(along, across, shape.width_mm, shape.length_mm)


def half_size_mm(shape: Bar) -> tuple[float, float]:
    """Half its extent (along, across), mm: a long bar fills little of the circle around it."""
    return shape.width_mm / 2.0, shape.length_mm / 2.0


def reach_mm(shape: Bar) -> float:
    """Half its diagonal, mm."""
    return math.hypot(shape.length_mm, shape.width_mm) / 2.0
