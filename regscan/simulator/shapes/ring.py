"""Ring: the band between two circles about one centre."""

import numpy as np

from regscan.job.layout import Ring


def distance_mm(shape: Ring, along: np.ndarray, across: np.ndarray) -> np.ndarray:
    """Signed distance from the nearer of the two circles, mm, negative in the band."""
    radius = np.hypot(along, across)
    outer, inner = shape.diameter_mm / 2.0, shape.inner_diameter_mm / 2.0
    return np.asarray(np.maximum(radius - outer, inner - radius))


def reach_mm(shape: Ring) -> float:
    """Its outer radius, mm."""
    return shape.diameter_mm / 2.0
