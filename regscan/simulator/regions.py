"""Regions: the rectangles of a frame that hold ink, each drawn alone on a finer grid."""

import math
from dataclasses import dataclass

import numpy as np

from regscan.camera.camera import Camera
from regscan.simulator.bent import web_places
from regscan.simulator.layers import Layer

# Fine squares per pixel and axis. Each is shaded by the exact share of it that lies on
# the ink's side of the edge: places are right to 2e-4 px (tests/simulator/test_placement.py).
FINE = 4
_BENT = 1.2  # a lens may draw things so much larger than the camera's pixel size says


@dataclass(slots=True)
class Region:
    """Whole pixels that hold some layers: rows top..bottom-1, columns left..right-1."""

    top: int
    left: int
    bottom: int
    right: int
    layers: list[Layer]

    def touches(self, other: "Region") -> bool:
        """True when the two rectangles share a pixel."""
        apart = (
            self.bottom <= other.top
            or other.bottom <= self.top
            or self.right <= other.left
            or other.right <= self.left
        )
        return not apart

    def joined(self, other: "Region") -> "Region":
        """The smallest region that holds both."""
        return Region(
            min(self.top, other.top),
            min(self.left, other.left),
            max(self.bottom, other.bottom),
            max(self.right, other.right),
            self.layers + other.layers,
        )


def regions_of(
    layers: list[Layer], camera: Camera, size: tuple[int, int], margin_px: float
) -> list[Region]:
    """Rectangles around the layers, joined where they meet, so that each can be drawn alone.

    size        (rows, cols) of the frame; what lies further than the margin outside is left out.
    margin_px   how far around a layer the lens carries its ink.
    """
    regions: list[Region] = []
    for layer in layers:
        new = _around(layer, camera, size, margin_px)
        if new is None:
            continue
        while met := next((r for r in regions if r.touches(new)), None):
            regions.remove(met)
            new = met.joined(new)
        regions.append(new)
    return regions


def _around(layer: Layer, camera: Camera, size: tuple[int, int], margin_px: float) -> Region | None:
    """The pixels one layer may reach, as far as they matter to the frame."""
    along, across = layer.outline.half_box_mm
    corners = [camera.step_to_pixels(sign * along, across) for sign in (1.0, -1.0)]
    larger = _BENT if camera.lens else 1.0
    reach_row = larger * max(abs(row) for row, _ in corners) + margin_px
    reach_col = larger * max(abs(col) for _, col in corners) + margin_px
    halo = math.ceil(margin_px)
    top = max(math.floor(layer.row_px - reach_row), -halo)
    left = max(math.floor(layer.col_px - reach_col), -halo)
    bottom = min(math.ceil(layer.row_px + reach_row) + 1, size[0] + halo)
    right = min(math.ceil(layer.col_px + reach_col) + 1, size[1] + halo)
    if top >= bottom or left >= right:
        return None
    return Region(top, left, bottom, right, [layer])


@dataclass(frozen=True, slots=True)
class Grid:
    """The fine squares of a region as one layer sees them.

    along, across   (circumferential, lateral) mm of their middles about the layer's centre.
    square_mm       side of a square (geometric mean where pixels are not square).
    camera          turns steps in px into steps on the web.
    """

    along: np.ndarray
    across: np.ndarray
    square_mm: float
    camera: Camera

    def points_within(self, squares: np.ndarray, count: int) -> tuple[np.ndarray, np.ndarray]:
        """count x count points in each square picked by a mask: (squares, points) along, across."""
        steps = ((np.arange(count) + 0.5) / count - 0.5) / FINE
        rows, cols = (grid.ravel() for grid in np.meshgrid(steps, steps, indexing="ij"))
        (a, b), (c, d) = self.camera.matrix
        along = self.along[squares][:, None] + a * rows + b * cols
        return along, self.across[squares][:, None] + c * rows + d * cols


def grid_of(region: Region, layer: Layer, camera: Camera) -> Grid:
    """FINE x FINE squares in every pixel of a region, placed about a layer's centre."""
    steps = (np.arange((region.bottom - region.top) * FINE) + 0.5) / FINE - 0.5
    rows = steps + region.top - layer.row_px
    steps = (np.arange((region.right - region.left) * FINE) + 0.5) / FINE - 0.5
    cols = steps + region.left - layer.col_px
    if camera.lens:
        off = _through_lens(rows, cols, layer, camera)
        return Grid(off.real, off.imag, camera.mm_per_px / FINE, camera)
    (a, b), (c, d) = camera.matrix
    along = a * rows[:, None] + b * cols[None, :]
    across = c * rows[:, None] + d * cols[None, :]
    return Grid(along, across, camera.mm_per_px / FINE, camera)


def _through_lens(rows: np.ndarray, cols: np.ndarray, layer: Layer, camera: Camera) -> np.ndarray:
    """circumferential + 1j lateral mm about the layer's centre, rows and cols px from it."""
    centre = np.array(complex(layer.row_px, layer.col_px))
    seen = centre + rows[:, None] + 1j * cols[None, :]
    return web_places(camera, seen) - web_places(camera, centre)
