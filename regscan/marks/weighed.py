"""Weighed: marks measured by themselves, held against the others of their frame."""

from collections.abc import Mapping
from dataclasses import replace

from regscan.marks.alone import Alone
from regscan.marks.doubt import Wander, shared_ratios
from regscan.marks.flags import MarkFlag
from regscan.marks.judging.growth import moved_by_lost_sides, steadied
from regscan.marks.judging.quality import with_flag
from regscan.marks.limits import LIMITS
from regscan.marks.mark import Mark
from regscan.marks.median import median

_FEWEST = 3  # marks that say how well a mark of the frame is explained


def weighed(
    clear: Mapping[int, Alone], joined: Mapping[int, Mark], mm_per_px: float
) -> dict[int, Mark]:
    """All marks by their numbers, with the doubt that the frame as a whole gives them.

    clear    those measured by themselves.   joined   those measured with others they touch.
    """
    flagged = _unlike_flagged(clear)
    measured = {**joined, **{number: one.mark for number, one in flagged.items()}}
    wanders = {number: one.wander for number, one in flagged.items() if one.wander}
    return _widened(measured, wanders, mm_per_px)


def _unlike_flagged(clear: Mapping[int, Alone]) -> dict[int, Alone]:
    """MISSHAPEN for a mark that the fit explains much worse than it does the others of its frame:
    a rim of other print along its edge moves it, and is too narrow to be seen as anything else."""
    usual = [one.unlike for one in clear.values() if one.wander and one.mark.status == "ok"]
    if len(usual) < _FEWEST:
        return dict(clear)
    most = max(LIMITS.unlike_least, LIMITS.unlike_others * median(usual))
    return {
        number: replace(one, mark=with_flag(one.mark, MarkFlag.MISSHAPEN))
        if one.wander and one.unlike > most
        else one
        for number, one in clear.items()
    }


def _widened(
    measured: dict[int, Mark], wanders: dict[int, Wander], mm_per_px: float
) -> dict[int, Mark]:
    """Marks, those measured alone with their white-noise covariance widened by what print
    edges add, and with what their growth says against the others'."""
    ratios = _ratios(measured, wanders)
    growths = {number: wander.growth for number, wander in wanders.items()}
    for (number, wander), ratio in zip(wanders.items(), ratios, strict=True):
        mark = measured[number]
        row, col = wander.pull
        measured[number] = replace(
            mark,
            row_var=mark.row_var * ratio + row**2 + wander.model**2,
            col_var=mark.col_var * ratio + col**2 + wander.model**2,
            row_col_covar=mark.row_col_covar * ratio + row * col,
        )
    steady = steadied(measured, growths, dict(zip(wanders, ratios, strict=True)), mm_per_px)
    useful = {number: _useful(mark) for number, mark in steady.items()}
    for number, off in moved_by_lost_sides(growths, mm_per_px).items():
        mark = useful[number]
        useful[number] = replace(mark, row_var=mark.row_var + off**2, col_var=mark.col_var + off**2)
    return useful


def _ratios(measured: dict[int, Mark], wanders: dict[int, Wander]) -> list[float]:
    """Variance of every mark over its white-noise variance. A fit of something else says nothing
    of how rough the edges of marks are."""
    fits = {n: w for n, w in wanders.items() if measured[n].misfit < LIMITS.misfit}
    shared = dict(zip(fits, shared_ratios(list(fits.values())), strict=True))
    return [shared[n] if n in shared else shared_ratios([w])[0] for n, w in wanders.items()]


def _useful(mark: Mark) -> Mark:
    """FAINT for a mark whose place is too little known to be of use."""
    vague = (mark.row_var + mark.col_var) / 2.0 > LIMITS.centre_sd_px**2
    return with_flag(mark, MarkFlag.FAINT) if vague else mark
