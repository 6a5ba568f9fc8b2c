"""Growth of print, alike on the marks of a frame: it steadies the place of a damaged one.

Where a mark has lost one side, nothing faces the edge that is left: a shift and a growth of
the print look alike. The other marks of the frame say how far print grows today. That is not
the same for all inks, so it is taken as known only to the spread that they show.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from regscan.marks.doubt import Growth
from regscan.marks.flags import MarkFlag
from regscan.marks.limits import LIMITS
from regscan.marks.mark import Mark
from regscan.marks.median import median

_INKS_DIFFER_UM = 2.0  # one sigma, before any mark is seen; counts as much as two marks do
_FEWEST = 3  # sound marks that correct what a mark says of its own growth
_TELLING = 4.0  # times the least variance of growth
# A strip lost along one side of a square or a triangle moves it by twice what it seems to shrink
# by, and no other loss moves a disc by more: so much along each axis, which side not being known.
_LEVER = 1.4
_SHRUNKEN_SD = 2.5  # growth less than the others' by as many sd, of marks that are explained worse
_SHRUNKEN_ALONE_SD = 3.5  # the same of others: it may be their ink's
_OF_MEDIAN = 1.48  # sd over the median size, of a Gaussian
_WORSE = 1.5  # times as much that the fit does not explain as of the others
_LEAST_WORSE = 0.02  # of the contrast, and at least so much
_UNTOLD_VAR = 1.0  # px^2, of growth that neither a mark nor any other tells


def steadied(
    marks: Mapping[int, Mark],
    growths: Mapping[int, Growth],
    ratios: Mapping[int, float],
    mm_per_px: float,
) -> dict[int, Mark]:
    """The marks, damaged ones at the place that agrees with the growth of the sound ones.

    marks    with their covariance already widened by ratios, the variance over white noise.
    """
    # What is not of the design's shape says nothing of how far the design has grown.
    alike = [g for n, g in growths.items() if MarkFlag.MISSHAPEN not in marks[n].flags]
    telling = _telling(alike)
    usual = usual_growth(telling, mm_per_px)
    found = dict(marks)
    for number, growth in growths.items():
        if not growth.told:
            found[number] = _given(marks[number], growth, *(usual or (growth.px, _UNTOLD_VAR)))
        elif (growth.lost > 0.0 or growth.leans) and usual and len(telling) >= _FEWEST:
            found[number] = _agreeing(marks[number], growth, ratios[number], *usual)
    return found


def _telling(growths: Sequence[Growth]) -> list[float]:
    """Growths, px, of the marks that tell it: sound ones; where all are smeared, those whose
    sides still do."""
    whole = [growth for growth in growths if growth.lost == 0.0]
    sound = [growth for growth in whole if not growth.leans]
    least = min((growth.var for growth in whole), default=0.0)
    return [growth.px for growth in sound or whole if growth.var <= _TELLING * least or sound]


def usual_growth(growths_px: list[float], mm_per_px: float) -> tuple[float, float] | None:
    """Growth of one more mark of the frame, px, and its variance; None where none tells it."""
    count = len(growths_px)
    if not count:
        return None
    before = (_INKS_DIFFER_UM / 1000.0 / mm_per_px) ** 2
    middle = median(growths_px)
    spread = sum((px - middle) ** 2 for px in growths_px)
    return middle, (spread + 2.0 * before) / (count + 1) * (1.0 + 1.0 / count)


def less_grown(growths: Mapping[int, Growth], mm_per_px: float) -> dict[int, tuple[float, float]]:
    """Whole marks that have grown less than the others of their frame, by more than their inks
    may: by their numbers how much less, px, and the sd of that.

    What has faded along one side of a mark is taken for a smaller mark somewhere else.
    """
    inks_px = _INKS_DIFFER_UM / 1000.0 / mm_per_px
    whole = {number: one for number, one in growths.items() if one.lost == 0.0}
    telling = {number: one.px for number, one in whole.items() if not one.leans}
    most = max(telling.values(), default=0.0)
    found = {}
    for number, growth in whole.items():
        if most - growth.px < inks_px:
            continue  # most marks
        others = [px for other, px in telling.items() if other != number]
        if len(others) < _FEWEST:
            continue
        usual = median(others)
        spread = _OF_MEDIAN * median([abs(px - usual) for px in others])
        sd = math.sqrt(inks_px**2 + spread**2 + growth.var)
        if usual - growth.px > sd:
            found[number] = usual - growth.px, sd
    return found


def moved_by_lost_sides(growths: Mapping[int, Growth], mm_per_px: float) -> dict[int, float]:
    """How far marks may be off in either axis, px, one sigma, if they have grown less than the
    others for having lost a side; by their numbers those that have by more than their inks may.

    Beyond LIMITS.shrunk_um a mark is of another size than its design, and told to be.
    """
    less_by, most = less_grown(growths, mm_per_px), LIMITS.shrunk_um / 1000.0 / mm_per_px
    return {number: _LEVER * min(less - sd, most) for number, (less, sd) in less_by.items()}


def shrunken(seen: Mapping[int, tuple[Growth, float]], mm_per_px: float) -> set[int]:
    """Marks that have grown so much less than the others that part of them must be missing.

    seen   growth of every mark, and what the fit leaves of its edge, share of the contrast.
    """
    found = set()
    growths = {number: growth for number, (growth, _) in seen.items()}
    for number, (less, sd) in less_grown(growths, mm_per_px).items():
        others = median([left for other, (_, left) in seen.items() if other != number])
        worse = seen[number][1] > max(_LEAST_WORSE, _WORSE * others)
        if less > (_SHRUNKEN_SD if worse else _SHRUNKEN_ALONE_SD) * sd:
            found.add(number)
    return found


def _given(mark: Mark, growth: Growth, usual: float, var: float) -> Mark:
    """A mark that was fitted as if its growth were growth.px, at the place it has if that is
    `usual` within `var`."""
    row, col = growth.row_covar / growth.var, growth.col_covar / growth.var  # px for px of growth
    off = usual - growth.px
    return replace(
        mark,
        row_px=mark.row_px + row * off,
        col_px=mark.col_px + col * off,
        row_var=mark.row_var + row * row * var,
        col_var=mark.col_var + col * col * var,
        row_col_covar=mark.row_col_covar + row * col * var,
    )


def _agreeing(mark: Mark, growth: Growth, ratio: float, usual: float, var: float) -> Mark:
    """A mark given that its growth is `usual` within `var`: the linear update of its place."""
    share = ratio / (ratio * growth.var + var)
    off = usual - growth.px
    row, col = growth.row_covar, growth.col_covar
    return replace(
        mark,
        row_px=mark.row_px + share * off * row,
        col_px=mark.col_px + share * off * col,
        row_var=mark.row_var - ratio * share * row * row,
        col_var=mark.col_var - ratio * share * col * col,
        row_col_covar=mark.row_col_covar - ratio * share * row * col,
    )
