"""Lateral colour: a mark's place read through several channels, brought to where green sees it.

The finder reads one number per pixel, a weighted sum of red, green and blue. Where
the lens shows red and blue beside green, the mark's edge in that sum lies at the
mean of the three edges, each weighing as much as it adds to the sum's contrast.
"""

from dataclasses import replace

import numpy as np

from regscan.camera.lens import Lens
from regscan.marks.mark import Mark


def channel_shares(direction: np.ndarray, contrast: np.ndarray) -> tuple[float, float, float]:
    """How much of the edge red, green and blue each make up; sum 1.

    direction   3 channel weights.   contrast   3, ink less substrate, light.
    """
    red, green, blue = (float(part) for part in direction * contrast)
    whole = red + green + blue
    return red / whole, green / whole, blue / whole


def at_green(mark: Mark, lens: Lens, shares: tuple[float, float, float]) -> Mark:
    """The mark where green sees it; what the lens's colour leaves unknown widens its doubt."""
    row, col = lens.green_place(mark.row_px, mark.col_px, shares)
    unknown = lens.doubt.colour_px**2 * (shares[0] ** 2 + shares[2] ** 2)
    return replace(
        mark,
        row_px=row,
        col_px=col,
        row_var=mark.row_var + unknown,
        col_var=mark.col_var + unknown,
    )
