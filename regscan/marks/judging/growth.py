"""Growth of print, alike on the marks of a frame: it steadies the place of a damaged one.

Where a mark has lost one side, nothing faces the edge that is left: a shift and a growth of
the print look alike. The other marks of the frame say how far print grows today. That is not
the same for all inks, so it is taken as known only to the spread that they show.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from regscan.marks.doubt import Growth
from regscan.marks.flags import MarkFlag
from regscan.marks.mark import Mark
from regscan.marks.median import median

_INKS_DIFFER_UM = 2.0  # one sigma, before any mark is seen; counts as much as two marks do
_FEWEST = 3  # sound marks that correct what a mark says of its own growth
_TELLING = 4.0  # times the least variance of growth
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
