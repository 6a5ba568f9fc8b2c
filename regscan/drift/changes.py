"""What a colour's level does from hold to hold."""

import math
from itertools import pairwise

from regscan.drift.drift import Change, Level

SIGNIFICANT = 3.0
"""A change counts when it is this many of its own standard deviations. Three, not two,
since a press of ten stations asks this question scores of times in one run."""


def find_changes(levels: tuple[Level, ...]) -> tuple[Change, ...]:
    """Each hold against the one before; with three or more, the last against the first too."""
    pairs = list(pairwise(levels))
    if len(levels) > 2:
        pairs.append((levels[0], levels[-1]))
    return tuple(_change(before, after) for before, after in pairs)


def _change(before: Level, after: Level) -> Change:
    change = after.mean_mm - before.mean_mm
    sd = combined_sd(before.own_sd_mm, after.own_sd_mm)
    return Change(
        from_segment=before.segment,
        to_segment=after.segment,
        change_mm=change,
        sd_mm=sd,
        significant=is_significant(change, sd),
    )


def combined_sd(one: float | None, other: float | None) -> float | None:
    """Standard deviation of a difference of two independent means; None unless both are known."""
    if one is None or other is None:
        return None
    return math.hypot(one, other)


def is_significant(difference_mm: float, sd_mm: float | None) -> bool:
    """True when a difference is more than its doubt can make; never where there is no doubt."""
    return sd_mm is not None and abs(difference_mm) > SIGNIFICANT * sd_mm
