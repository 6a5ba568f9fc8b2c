"""Disc: a filled circle."""

import numpy as np

from regscan.job.layout import Disc


def distance_mm(shape: Disc, along: np.ndarray, across: np.ndarray) -> np.ndarray:
    """Signed distance from the circle, mm, negative inside."""
    return np.asarray(np.hypot(along, across) - shape.diameter_mm / 2.0)


def reach_mm(shape: Disc) -> float:
    """Its radius, mm."""
    return shape.diameter_mm / 2.0
