"""How a mark is printed: its fill, roundness, edge widths and slur.

Read from the same pixels as its place, after the fit. `cover` is how much ink
each pixel shows, 0 bare to 1 as solid as the mark; what differs from the fitted
picture of the design is what the press did to it.
"""

import math
from dataclasses import dataclass

import numpy as np

from regscan.camera.camera import Camera

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


@dataclass(frozen=True, slots=True)
class Inked:
    """Pixels of one fitted mark: N places about its centre.

    row, col   px from the centre.   area   pixels that a place stands for.
    cover      ink seen.   model   ink of the fitted picture.
    """

    row: np.ndarray
    col: np.ndarray
    area: np.ndarray
    cover: np.ndarray
    model: np.ndarray


def printing_of(inked: Inked, camera: Camera, edge_px: tuple[float, float]) -> Printing:
    """Print quality from a mark's pixels; edge_px are the edge's widths down rows and columns."""
    (a, b), (c, d) = camera.matrix
    along, across = a * inked.row + b * inked.col, c * inked.row + d * inked.col
    widths = np.hypot(np.array([a, c]) * edge_px[0], np.array([b, d]) * edge_px[1])
    inside = inked.model > _SOLID
    fill = _fill(inked, inside)
    quarters = [
        _fill(inked, inside & (np.sign(along) == down) & (np.sign(across) == right))
        for down in (-1.0, 1.0)
        for right in (-1.0, 1.0)
    ]
    pixel_mm2 = camera.row_mm_per_px * camera.col_mm_per_px
    return Printing(
        float(widths[0]) * 1000.0,
        float(widths[1]) * 1000.0,
        _roundness(inked, along, across),
        fill,
        _slur_um(inked, along, across, pixel_mm2),
        _slur_um(inked, across, along, pixel_mm2),
        max(quarters) - min(quarters),
    )


def _fill(inked: Inked, inside: np.ndarray) -> float:
    """Share of the places `inside` that is inked; NaN where there are none."""
    area = inked.area[inside]
    if area.sum() == 0.0:
        return math.nan
    return float(area @ (inked.cover[inside] > _VOID) / area.sum())


def _roundness(inked: Inked, along: np.ndarray, across: np.ndarray) -> float:
    near = inked.model > 0.02

    def drawn_out(ink: np.ndarray) -> float:
        weight = np.clip(ink[near], 0.0, None) * inked.area[near]
        spread = [float(weight @ (x[near] ** 2)) for x in (along, across)]
        return math.sqrt(spread[0] / spread[1]) if spread[1] > 0.0 else math.nan

    return drawn_out(inked.cover) / drawn_out(inked.model)


def _slur_um(inked: Inked, along: np.ndarray, across: np.ndarray, pixel_mm2: float) -> float:
    """Ink beyond the outline on the late side less that on the early side, per mm of width."""
    outside = inked.model < 0.5
    width = float(np.ptp(across[inked.model >= 0.5])) if (~outside).any() else 0.0
    if width == 0.0:
        return math.nan
    within = np.abs(across) <= width / 2.0
    excess = (inked.cover - inked.model) * inked.area * pixel_mm2
    beyond = outside & within
    side = np.sign(along)
    return float((excess * side)[beyond].sum() / width) * 1000.0
