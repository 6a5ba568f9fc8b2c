"""Cover: how much of each fine square one layer's ink covers, defects included."""

import numpy as np

from regscan.camera.camera import Camera
from regscan.simulator.chance import smooth_field, stream
from regscan.simulator.flawed import flawed
from regscan.simulator.layers import Layer
from regscan.simulator.look import Print
from regscan.simulator.regions import Grid, Region, grid_of


def cover_of(
    layer: Layer, region: Region, camera: Camera, look: Print, seed: int
) -> tuple[np.ndarray, np.ndarray | None]:
    """(cover 0..1, ink film relative to nominal or None for an even film) on the fine grid."""
    grid = grid_of(region, layer, camera)
    designed = layer.outline.distance_mm(grid.along, grid.across)
    distance = designed - _spread_mm(layer, grid, look, seed)
    cover = share_inside(distance)
    _mend_corners(cover, designed, distance, layer, grid)
    if look.pinholes_per_mm2 > 0.0:
        rng = stream(seed, "pinholes", layer.number)
        cover = cover * _without_pinholes(distance, grid, look, rng)
    if layer.defects:
        cover = flawed(cover, (grid.along, grid.across), layer.defects, camera)
    return cover, _film(distance, look)


def _spread_mm(layer: Layer, grid: Grid, look: Print, seed: int) -> np.ndarray:
    """How far the edge lies outside its design, mm: dot gain and the edge's own wander."""
    rows, cols = grid.along.shape
    spread = np.full((rows, cols), look.gain_um / 1000.0)
    if look.roughness_um > 0.0:
        length = look.roughness_length_um / 1000.0 / grid.square_mm
        rng = stream(seed, "roughness", layer.number)
        spread += look.roughness_um / 1000.0 * smooth_field((rows, cols), length, rng)
    return spread


def share_inside(distance: np.ndarray) -> np.ndarray:
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
    cover: np.ndarray, designed: np.ndarray, distance: np.ndarray, layer: Layer, grid: Grid
) -> None:
    """Where the outline turns a corner within a fine square, count 8 x 8 points in it instead."""
    bend = np.zeros(designed.shape)
    bend[1:-1] += np.abs(np.diff(designed, 2, axis=0))
    bend[:, 1:-1] += np.abs(np.diff(designed, 2, axis=1))
    kinked = (bend > 0.1 * grid.square_mm) & (np.abs(distance) < 1.5 * grid.square_mm)
    spread = (designed - distance)[kinked][:, None]
    outside = layer.outline.distance_mm(*grid.points_within(kinked, 8)) - spread
    cover[kinked] = np.clip(0.5 - outside * 8.0 / grid.square_mm, 0.0, 1.0).mean(axis=1)


def _film(distance: np.ndarray, look: Print) -> np.ndarray | None:
    """Ink film thickness, 1 inside; squeeze-out piles it up in a rim along the edge."""
    if look.rim == 0.0:
        return None
    width = look.rim_um / 1000.0
    # Half a sine over the rim, highest in its middle.
    depth = np.clip(-distance / width, 0.0, 1.0)
    return np.asarray(1.0 + look.rim * np.sin(np.pi * depth))


def _without_pinholes(
    distance: np.ndarray, grid: Grid, look: Print, rng: np.random.Generator
) -> np.ndarray:
    """1 where ink may lie, 0 in pinholes strewn evenly over the inked area."""
    kept = np.ones(distance.shape)
    inside = np.argwhere(distance < 0.0)
    count = rng.poisson(look.pinholes_per_mm2 * len(inside) * grid.square_mm**2)
    if not len(inside):
        return kept
    for row, col in inside[rng.integers(0, len(inside), count)]:
        radius = look.pinhole_um / 2000.0 * rng.lognormal(0.0, 0.3)
        reach = int(np.ceil(radius / grid.square_mm)) + 2
        near = np.s_[max(row - reach, 0) : row + reach + 1, max(col - reach, 0) : col + reach + 1]
        along = grid.along[near] - grid.along[row, col]
        across = grid.across[near] - grid.across[row, col]
        outside = np.hypot(along, across) - radius
        kept[near] *= np.clip(0.5 + outside / grid.square_mm, 0.0, 1.0)
    return kept
