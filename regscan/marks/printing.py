"""How a mark is printed: its fill, roundness, edge widths and slur.

Read from the same pixels as its place, after the fit. `cover` is how much ink
each pixel shows, 0 bare to 1 as solid as the mark; what differs from the fitted
picture of the design is what the press did to it.
"""

import math
from dataclasses import dataclass

import numpy as np

from regscan.camera.camera import Camera
from regscan.marks.fit import Inked

_SOLID = 0.97  # the fitted picture's ink share well inside the mark
_VOID = 0.6  # cover below this, well inside, is a hole in the print


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


def printing_of(
    inked: Inked, camera: Camera, edge_px: tuple[float, float], at_full: float
) -> Printing:
    """Print quality from a mark's pixels; edge_px are the edge's widths down rows and columns."""
    (a, b), (c, d) = camera.matrix
    along, across = a * inked.row + b * inked.col, c * inked.row + d * inked.col
    widths = np.hypot(np.array([a, c]) * edge_px[0], np.array([b, d]) * edge_px[1])
    fill, patchiness = _fills(inked, along, across)
    pixel_mm2 = camera.row_mm_per_px * camera.col_mm_per_px
    outside = inked.model < 0.5
    excess = (inked.cover - inked.model) * inked.area * pixel_mm2
    return Printing(
        float(widths[0]) * 1000.0,
        float(widths[1]) * 1000.0,
        _roundness(inked, along, across),
        fill,
        _slur_um(outside, excess, along, across),
        _slur_um(outside, excess, across, along),
        patchiness,
        at_full,
    )


def _fills(inked: Inked, along: np.ndarray, across: np.ndarray) -> tuple[float, float]:
    """Share of the mark's inside that is inked, and how much that differs over its quarters."""
    inside = inked.model > _SOLID
    area, full = inked.area[inside], inked.cover[inside] > _VOID
    quarter = 2 * (along[inside] > 0.0) + (across[inside] > 0.0)
    areas = np.bincount(quarter, area, minlength=4)
    inks = np.bincount(quarter, area * full, minlength=4)
    if areas.sum() == 0.0:
        return math.nan, math.nan
    shares = inks[areas > 0.0] / areas[areas > 0.0]
    uneven = float(np.ptp(shares)) if shares.size == 4 else math.nan
    return float(inks.sum() / areas.sum()), uneven


def _roundness(inked: Inked, along: np.ndarray, across: np.ndarray) -> float:
    near = inked.model > 0.02
    squares = np.stack([along[near], across[near]]) ** 2

    def drawn_out(ink: np.ndarray) -> float:
        spread = squares @ (np.maximum(ink[near], 0.0) * inked.area[near])
        return math.sqrt(spread[0] / spread[1]) if spread[1] > 0.0 else math.nan

    return drawn_out(inked.cover) / drawn_out(inked.model)


def _slur_um(
    outside: np.ndarray, excess_mm2: np.ndarray, along: np.ndarray, across: np.ndarray
) -> float:
    """Ink beyond the outline on the late side less that on the early side, per mm of width."""
    inside = across[~outside]
    width = float(inside.max() - inside.min()) if 0 < inside.size < across.size else 0.0
    if width == 0.0:
        return math.nan
    beyond = outside & (np.abs(across) <= width / 2.0)
    return float((excess_mm2[beyond] * np.sign(along[beyond])).sum() / width) * 1000.0
