"""How a mark is printed: its fill, roundness, edge widths and slur.

Read from the same pixels as its place, after the fit. `cover` is how much ink
each pixel shows, 0 bare to 1 as solid as the mark; what differs from the fitted
picture of the design is what the press did to it.
"""

import math

import numpy as np

from regscan.camera.camera import Camera
from regscan.marks.fitting.fit import Inked
from regscan.marks.printing import Printing

_SOLID = 0.97  # the fitted picture's ink share well inside the mark
_VOID = 0.6  # cover below this, well inside, is a hole in the print


def printing_of(
    inked: Inked, camera: Camera, edge_px: tuple[float, float], at_full: float
) -> Printing:
    """Print quality from a mark's pixels; edge_px are the edge's widths down rows and columns."""
    matrix = np.array(camera.matrix)
    web = matrix @ inked.place
    widths_mm = np.hypot(*(matrix * edge_px).T).tolist()
    fill, patchiness = fills(inked, camera)
    slur_mm, sideways_mm = _slurs(inked, web, camera.row_mm_per_px * camera.col_mm_per_px)
    return Printing(
        edge_circumferential_um=widths_mm[0] * 1000.0,
        edge_lateral_um=widths_mm[1] * 1000.0,
        roundness=_roundness(inked, web),
        fill=fill,
        slur_um=slur_mm * 1000.0,
        sideways_um=sideways_mm * 1000.0,
        patchiness=patchiness,
        at_full=at_full,
    )


def fills(inked: Inked, camera: Camera) -> tuple[float, float]:
    """Share of the mark's inside that is inked, and how much that differs over its quarters."""
    web = np.array(camera.matrix) @ inked.place
    inside = np.flatnonzero(inked.model > _SOLID)
    area = inked.area.take(inside)
    late, far = web.take(inside, axis=1) > 0.0
    quarter = 2 * late + far
    areas = np.bincount(quarter, area, minlength=4).tolist()
    inks = np.bincount(quarter, area * (inked.cover.take(inside) > _VOID), minlength=4).tolist()
    shares = [ink / whole for ink, whole in zip(inks, areas, strict=True) if whole > 0.0]
    if not shares:
        return math.nan, math.nan
    uneven = max(shares) - min(shares) if len(shares) == 4 else math.nan
    return sum(inks) / sum(areas), uneven


def _roundness(inked: Inked, web: np.ndarray) -> float:
    """Spread of the ink seen along over across the web, against that of the fitted picture."""
    near = inked.area * (inked.model > 0.02)
    squares = web * web
    along, across = (squares @ (np.maximum(inked.cover, 0.0) * near)).tolist()
    along_drawn, across_drawn = (squares @ (inked.model * near)).tolist()
    if not (across > 0.0 and along_drawn > 0.0 and across_drawn > 0.0):
        return math.nan
    return math.sqrt(along / across * across_drawn / along_drawn)


def _slurs(inked: Inked, web: np.ndarray, pixel_mm2: float) -> tuple[float, float]:
    """Ink beyond the outline on the late side less that on the early side, per mm of width;
    and the same across the web: mm."""
    inside, outside = np.flatnonzero(inked.model >= 0.5), np.flatnonzero(inked.model < 0.5)
    if not (inside.size and outside.size):
        return math.nan, math.nan
    own = web.take(inside, axis=1)
    width = (own.max(axis=1) - own.min(axis=1))[:, None]
    beyond = web.take(outside, axis=1)
    excess_mm2 = ((inked.cover - inked.model) * inked.area).take(outside) * pixel_mm2
    # Ink counts where it lies behind or before the mark, not beside it.
    within = (np.abs(beyond) <= width / 2.0)[::-1]
    signed = (np.sign(beyond) * within) @ excess_mm2
    return tuple((signed / width[::-1, 0]).tolist()) if width.all() else (math.nan, math.nan)
