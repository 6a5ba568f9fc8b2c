"""The median of the few numbers that a frame's marks are: numpy's takes twenty times as long."""

import math
from collections.abc import Collection


def median(values: Collection[float]) -> float:
    """The middle one of at least one number, or the mean of the two in the middle; NaN where one
    is not known."""
    if math.isnan(sum(values)):
        return math.nan
    ranked, half = sorted(values), len(values) // 2
    return ranked[half] if len(ranked) % 2 else (ranked[half - 1] + ranked[half]) / 2.0
