"""How marks are printed: their fill, roundness, edge widths and slur.

Read from the same pixels as their places, after the fit. `cover` is how much ink
each pixel shows, 0 bare to 1 as solid as the mark; what differs from the fitted
picture of the design is what the press did to it. M marks are looked at side by side.
"""

import math
from collections.abc import Sequence

import numpy as np

from regscan.camera.camera import Camera
from regscan.marks.fitting.inked import Inked
from regscan.marks.printing import Printing

_SOLID = 0.97  # the fitted picture's ink share well inside the mark
_SMEAR_PULL = 0.3
_SMEAR_SEEN_UM = 5.0  # less than this is noise
_VOID = 0.6  # cover below this, well inside, is a hole in the print


def printings_of(
    inked: Inked,
    cameras: Sequence[Camera],
    edges_px: Sequence[tuple[float, float]],
    at_full: Sequence[float],
) -> list[Printing]:
    """Print quality from the pixels of M marks; edges_px are the edges' widths down rows and
    along columns."""
    matrices = np.array([camera.matrix for camera in cameras])
    widths_um = 1000.0 * np.sqrt(((matrices * np.array(edges_px)[:, None]) ** 2).sum(axis=2))
    pixels_mm2 = [camera.row_mm_per_px * camera.col_mm_per_px for camera in cameras]
    slurs_um = 1000.0 * _slurs(inked, np.array(pixels_mm2))
    return [
        Printing(
            edge_circumferential_um=width[0],
            edge_lateral_um=width[1],
            roundness=roundness,
            fill=fill,
            slur_um=slur[0],
            sideways_um=slur[1],
            patchiness=patchiness,
            at_full=full,
        )
        for width, roundness, (fill, patchiness), slur, full in zip(
            widths_um.tolist(),
            _roundness(inked).tolist(),
            _fills(inked),
            slurs_um.tolist(),
            at_full,
            strict=True,
        )
    ]


def smear_pull(printing: Printing, camera: Camera) -> tuple[float, float]:
    """How far a smear may have pulled the centre along the web: (row, col) px, one sigma.

    The fit follows the outline, of which a smear softens one side; by how much that moves
    the centre depends on how the smear fades, so a part of its length is doubt.
    """
    length_um = abs(printing.slur_um) - 3.0 * abs(printing.sideways_um) - _SMEAR_SEEN_UM
    if not length_um > 0.0:
        return 0.0, 0.0
    row, col = camera.to_pixels(_SMEAR_PULL * length_um / 1000.0, 0.0)
    origin = camera.to_pixels(0.0, 0.0)
    return float(row - origin[0]), float(col - origin[1])


def fills(inked: Inked) -> tuple[float, float]:
    """Share of one mark's inside that is inked, and how much that differs over its quarters."""
    return _fills(Inked.together([inked]))[0]


def _fills(inked: Inked) -> list[tuple[float, float]]:
    both = np.empty((2, *inked.area.shape), np.float32)
    np.multiply(inked.area, inked.model > _SOLID, out=both[0])
    np.multiply(both[0], inked.cover > _VOID, out=both[1])
    late, far = inked.web[:, 0] > 0.0, inked.web[:, 1] > 0.0
    quarters = np.stack([late & far, late & ~far, ~late & far, ~(late | far)]).astype(np.float32)
    # M x quarters x N times M x N x 2.
    sums = quarters.transpose(1, 0, 2) @ both.transpose(1, 2, 0)
    return [_fill(areas, inks) for areas, inks in sums.transpose(0, 2, 1).tolist()]


def _fill(areas: list[float], inks: list[float]) -> tuple[float, float]:
    shares = [ink / whole for ink, whole in zip(inks, areas, strict=True) if whole > 0.0]
    if not shares:
        return math.nan, math.nan
    uneven = max(shares) - min(shares) if len(shares) == 4 else math.nan
    return sum(inks) / sum(areas), uneven


def _roundness(inked: Inked) -> np.ndarray:
    """Spread of the ink seen along over across the web, against that of the fitted picture: M."""
    near = inked.area * (inked.model > 0.02)
    inks = np.empty((2, *near.shape), np.float32)
    np.multiply(np.maximum(inked.cover, 0.0), near, out=inks[0])
    np.multiply(inked.model, near, out=inks[1])
    spreads = (inked.web * inked.web) @ inks.transpose(1, 2, 0)
    seen, drawn = spreads[:, :, 0], spreads[:, :, 1]
    known = (seen[:, 1] > 0.0) & (drawn > 0.0).all(axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        squared = seen[:, 0] / seen[:, 1] * drawn[:, 1] / drawn[:, 0]
    return np.sqrt(np.where(known, squared, math.nan))


def _slurs(inked: Inked, pixels_mm2: np.ndarray) -> np.ndarray:
    """Ink beyond the outline on the late side less that on the early side, per mm of width;
    and the same across the web: M x 2, mm."""
    web, inside = inked.web, inked.model >= 0.5
    own = web * inside[:, None]  # what lies elsewhere is put on the centre, which widens nothing
    width = own.max(axis=2) - own.min(axis=2)
    outside = inked.area * ~inside
    excess = (inked.cover - inked.model) * outside
    # Ink counts where it lies behind or before the mark, not beside it.
    within = (np.abs(web) <= width[:, :, None] / 2.0)[:, ::-1]
    after, either = (
        (where.astype(np.float32) @ excess[:, :, None])[:, :, 0]
        for where in (within & (web > 0.0), within)
    )
    known = (width > 0.0).all(axis=1) & outside.any(axis=1)
    across = np.where(known[:, None], width[:, ::-1], math.nan)
    return np.asarray((2.0 * after - either) * pixels_mm2[:, None] / across)
