"""Mark: where one ink's mark was found in one frame, how well, and how it looked."""

import math
from dataclasses import dataclass
from typing import Literal

from regscan.marks.flags import MarkFlag
from regscan.marks.printing import Printing

CLEAN = MarkFlag(0)
UNSEEN = Printing()
Status = Literal["ok", "doubtful", "missing"]


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark of the layout in one frame.

    ink, edge          which design mark this is.
    status             "missing" marks have NaN places.
    row_px, col_px     centre, px of the full frame (pixel centres at integers).
    row_var, col_var, row_col_covar   covariance of the centre, px^2.
    flags              reasons for doubt; 0 for a clean mark.
    contrast           ink against its surroundings, share of full scale (linear light).
    edge_px            Gaussian width (one sigma) of the printed edge.
    area_ratio         inked area over the design's area.
    misfit             rms of what the fit leaves, over the contrast.
    printing           how the ink sits: edge widths, roundness, fill, slur.
    """

    ink: str
    edge: str
    status: Status
    row_px: float = math.nan
    col_px: float = math.nan
    row_var: float = math.nan
    col_var: float = math.nan
    row_col_covar: float = math.nan
    flags: MarkFlag = CLEAN
    contrast: float = math.nan
    edge_px: float = math.nan
    area_ratio: float = math.nan
    misfit: float = math.nan
    printing: Printing = UNSEEN
