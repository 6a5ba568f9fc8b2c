"""Polygon: any simple polygon, by its points about its place."""

import math

import numpy as np

from regscan.job.layout import Polygon


def distance_mm(shape: Polygon, along: np.ndarray, across: np.ndarray) -> np.ndarray:
    """Signed distance from the outline, mm, negative inside (crossing-number rule)."""
    points = shape.points_mm
    nearest = np.full(along.shape, np.inf)
    inside = np.zeros(along.shape, dtype=bool)
    for (a0, c0), (a1, c1) in zip(points, points[1:] + points[:1], strict=True):
        da, dc = a1 - a0, c1 - c0
        share = ((along - a0) * da + (across - c0) * dc) / (da * da + dc * dc)
        share = np.clip(share, 0.0, 1.0)
        nearest = np.minimum(nearest, np.hypot(along - a0 - share * da, across - c0 - share * dc))
        if dc != 0.0:
            crosses = (c0 > across) != (c1 > across)
            inside ^= crosses & (along < da * (across - c0) / dc + a0)
    return np.where(inside, -nearest, nearest)


def reach_mm(shape: Polygon) -> float:
    """From its place to the furthest point, mm."""
    return max(math.hypot(along, across) for along, across in shape.points_mm)
