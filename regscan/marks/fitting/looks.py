"""Looks: the appearance that a fit saw, against that of the template it was made with."""

import math

from regscan.marks.fitting.fit import Fit
from regscan.marks.shape.template import SHARPEST_PX, Appearance


def near_enough(look: Appearance, fit: Fit) -> bool:
    """The fit corrects for an appearance a little off the template's."""
    return look.corrects(fit.blur_row_var, fit.blur_col_var, fit.growth_px)


def seen_by(look: Appearance, fit: Fit) -> Appearance:
    """The appearance a fit saw: the template's and what it found on top."""
    return Appearance(*edge_widths(look, fit), look.growth_px + min(max(fit.growth_px, -1.5), 1.5))


def edge_widths(look: Appearance, fit: Fit) -> tuple[float, float]:
    """Width of the edge down rows and along columns, one sigma."""

    def width(own: float, extra: float) -> float:
        return math.sqrt(max(own**2 + min(max(extra, -0.6 * own**2), 3.0 * own**2), SHARPEST_PX**2))

    return width(look.row_px, fit.blur_row_var), width(look.col_px, fit.blur_col_var)
