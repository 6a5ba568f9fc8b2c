"""Printing: how one mark is printed."""

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Printing:
    """Print quality of one mark; NaN where it cannot be told.

    edge_circumferential_um, edge_lateral_um   softness of the edge (one sigma) as seen
                 along and across the web: focus, motion and ink spread together.
    roundness    spread of the ink along the web over that across it, against the design;
                 1 as designed, above 1 drawn out along the web.
    fill         share of the mark's inside that is inked.
    slur_um      length of the smear behind the trailing edge, less that before the leading
                 edge; + trails toward the unwind.
    sideways_um  the same across the web, where printing smears nothing: what it shows is
                 how far uneven light and neighbours are to be blamed for a slur.
    at_full      share of the mark, or of the paper beside it if that is more, whose pixels
                 stand at the end of the scale.
    patchiness   how unevenly the mark's quarters are filled: largest less smallest fill.
    """

    edge_circumferential_um: float = math.nan
    edge_lateral_um: float = math.nan
    roundness: float = math.nan
    fill: float = math.nan
    slur_um: float = math.nan
    sideways_um: float = math.nan
    patchiness: float = math.nan
    at_full: float = 0.0
