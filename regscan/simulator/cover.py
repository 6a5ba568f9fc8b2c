"""Cover: how much of each fine-grid square one layer's ink covers, defects included."""

import numpy as np

from regscan.camera.camera import Camera
from regscan.simulator.chance import smooth_field, stream
from regscan.simulator.layers import Layer, Region, grid_mm
from regscan.simulator.look import Print

# Fine squares per pixel and axis. Each is shaded by the exact share of it that lies on
# the ink's side of the edge: places are right to 2e-4 px (tests/simulator/test_placement.py).
FINE = 4


def cover_of(
    layer: Layer, region: Region, camera: Camera, look: Print, seed: int
) -> tuple[np.ndarray, np.ndarray | None]:
    """(cover 0..1, ink film relative to nominal or None for an even film) on the fine grid."""
    along, across = grid_mm(region, layer, camera, FINE)
    designed = layer.outline.distance_mm(along, across)
    distance = designed - _spread_mm(layer, designed.shape, camera, look, seed)
    cover = _share_inside(distance)
    _mend_corners(cover, designed, distance, (along, across), layer, camera)
    if look.pinholes_per_mm2 > 0.0:
        cover = cover * _without_pinholes(distance, along, across, look, layer.number, seed)
    return cover, _film(distance, look)


def _spread_mm(
    layer: Layer, shape: tuple[int, ...], camera: Camera, look: Print, seed: int
) -> np.ndarray:
    """How far the edge lies outside its design, mm: dot gain and the edge's own wander."""
    spread = np.full(shape, look.gain_um / 1000.0)
    if look.roughness_um > 0.0:
        length = look.roughness_length_um / 1000.0 / camera.mm_per_px * FINE
        rng = stream(seed, "roughness", layer.number)
        field = smooth_field((shape[0], shape[1]), length, rng)
        spread += look.roughness_um / 1000.0 * field
    return spread


def _share_inside(distance: np.ndarray) -> np.ndarray:
    """Share of each fine square where the distance is negative, its edge taken as straight.

    The distance changes by f + r*x + c*y over a square, x and y from -1/2 to 1/2; the share
    below zero is the distribution function of the sum of two even distributions.
    """
    share = np.asarray(distance < 0.0, dtype=float)
    down, right = np.gradient(distance)
    steep = np.maximum(np.abs(down), np.abs(right))
    flat = np.minimum(np.abs(down), np.abs(right))
    at_edge = np.abs(distance) < (steep + flat) / 2.0
    inward, steep, flat = -distance[at_edge], steep[at_edge], flat[at_edge]
    corner = (steep + flat) / 2.0 - np.abs(inward)
    tail = corner**2 / (2.0 * steep * np.maximum(flat, 1e-12))
    cut = np.where(inward > 0.0, 1.0 - tail, tail)
    band = np.abs(inward) <= (steep - flat) / 2.0
    share[at_edge] = np.where(band, 0.5 + inward / steep, cut)
    return share


def _mend_corners(
    cover: np.ndarray,
    designed: np.ndarray,
    distance: np.ndarray,
    places: tuple[np.ndarray, np.ndarray],
    layer: Layer,
    camera: Camera,
) -> None:
    """Where the outline turns a corner within a fine square, count 8 x 8 points in it instead."""
    square_mm = camera.mm_per_px / FINE
    bend = np.zeros(designed.shape)
    bend[1:-1] += np.abs(np.diff(designed, 2, axis=0))
    bend[:, 1:-1] += np.abs(np.diff(designed, 2, axis=1))
    kinked = (bend > 0.1 * square_mm) & (np.abs(distance) < 1.5 * square_mm)
    steps = ((np.arange(8) + 0.5) / 8 - 0.5) / FINE
    rows, cols = (grid.ravel() for grid in np.meshgrid(steps, steps, indexing="ij"))
    (a, b), (c, d) = camera.matrix
    along = places[0][kinked][:, None] + a * rows + b * cols
    across = places[1][kinked][:, None] + c * rows + d * cols
    spread = (designed - distance)[kinked][:, None]
    outside = layer.outline.distance_mm(along, across) - spread
    cover[kinked] = np.clip(0.5 - outside * 8.0 / square_mm, 0.0, 1.0).mean(axis=1)


def _film(distance: np.ndarray, look: Print) -> np.ndarray | None:
    """Ink film thickness, 1 inside; squeeze-out piles it up in a rim along the edge."""
    if look.rim == 0.0:
        return None
    width = look.rim_um / 1000.0
    # Half a sine over the rim, highest in its middle.
    depth = np.clip(-distance / width, 0.0, 1.0)
    return np.asarray(1.0 + look.rim * np.sin(np.pi * depth))


def _without_pinholes(
    distance: np.ndarray,
    along: np.ndarray,
    across: np.ndarray,
    look: Print,
    number: int,
    seed: int,
) -> np.ndarray:
    """1 where ink may lie, 0 in pinholes strewn evenly over the inked area."""
    rng = stream(seed, "pinholes", number)
    inside = np.argwhere(distance < 0.0)
    square_mm2 = abs(
        (along[1, 0] - along[0, 0]) * (across[0, 1] - across[0, 0])
        - (along[0, 1] - along[0, 0]) * (across[1, 0] - across[0, 0])
    )
    square_mm = float(np.sqrt(square_mm2))
    kept = np.ones(distance.shape)
    if not len(inside):
        return kept
    count = rng.poisson(look.pinholes_per_mm2 * len(inside) * square_mm2)
    for row, col in inside[rng.integers(0, len(inside), count)]:
        radius = look.pinhole_um / 2000.0 * rng.lognormal(0.0, 0.3)
        reach = int(np.ceil(radius / square_mm)) + 2
        near = np.s_[max(row - reach, 0) : row + reach + 1, max(col - reach, 0) : col + reach + 1]
        off = np.hypot(along[near] - along[row, col], across[near] - across[row, col]) - radius
        kept[near] *= np.clip(0.5 + off / square_mm, 0.0, 1.0)
    return kept
