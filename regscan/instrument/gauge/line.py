"""A straight line through points, with what is known of it (JCGM 100:2008, H.3)."""

import math
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class Line:
    """y = intercept + slope x by least squares, all points weighed alike.

    correlation   of intercept and slope; it belongs to every value read off the line.
    residual_sd   one standard deviation of single points about it.
    freedom       points less two.
    """

    intercept: float
    slope: float
    intercept_sd: float
    slope_sd: float
    correlation: float
    residual_sd: float
    freedom: int

    def at(self, x: float) -> tuple[float, float]:
        """(value, its sd) of the line at x, also beyond the points."""
        covariance = self.correlation * self.intercept_sd * self.slope_sd
        variance = self.intercept_sd**2 + (x * self.slope_sd) ** 2 + 2.0 * x * covariance
        return self.intercept + self.slope * x, math.sqrt(max(variance, 0.0))


def straight_line(x: np.ndarray, y: np.ndarray, lost: int = 2) -> Line:
    """The line through at least three points at two places x or more.

    lost   degrees of freedom taken: 2, and more where means were taken off before.
    """
    middle = x.mean()
    spread = float(((x - middle) ** 2).sum())
    slope = float(((x - middle) * (y - y.mean())).sum()) / spread
    intercept = float(y.mean()) - slope * float(middle)
    freedom = len(x) - lost
    residual = y - intercept - slope * x
    sd = math.sqrt(float((residual**2).sum()) / freedom)
    squares = float((x**2).sum())
    return Line(
        intercept=intercept,
        slope=slope,
        intercept_sd=sd * math.sqrt(squares / (len(x) * spread)),
        slope_sd=sd / math.sqrt(spread),
        correlation=-float(x.sum()) / math.sqrt(len(x) * squares),
        residual_sd=sd,
        freedom=freedom,
    )
