"""Cross: two equal bars at right angles through one centre."""

import math

import numpy as np

from regscan.job.layout import Cross
from regscan.simulator.shapes.bar import rectangle_mm


def distance_mm(shape: Cross, along: np.ndarray, across: np.ndarray) -> np.ndarray:
    """Signed distance from the outline of the two bars together, mm, negative inside."""
    one = rectangle_mm(along, across, shape.size_mm, shape.stroke_mm)
    other = rectangle_mm(along, across, shape.stroke_mm, shape.size_mm)
    return np.asarray(np.minimum(one, other))


def reach_mm(shape: Cross) -> float:
    """From the centre to the corner of an arm, mm."""
    return math.hypot(shape.size_mm, shape.stroke_mm) / 2.0
