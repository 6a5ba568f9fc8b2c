"""Cover: how much of each fine-grid square one layer's ink covers, defects included."""

import numpy as np

from regscan.camera.camera import Camera
from regscan.simulator.chance import smooth_field, stream
from regscan.simulator.layers import Layer, Region, grid_mm
from regscan.simulator.look import Print

# Fine squares per pixel and axis. The edge's own distance shades each fine square, so
# that places are right to 1e-4 px (tests/simulator/test_placement.py).
FINE = 4


def cover_of(
    layer: Layer, region: Region, camera: Camera, look: Print, seed: int
) -> tuple[np.ndarray, np.ndarray | None]:
    """(cover 0..1, ink film relative to nominal or None for an even film) on the fine grid."""
    along, across = grid_mm(region, layer, camera, FINE)
    distance = layer.outline.distance_mm(along, across) - look.gain_um / 1000.0
    square_mm = camera.mm_per_px / FINE
    if look.roughness_um > 0.0:
        rng = stream(seed, "roughness", layer.number)
        length = look.roughness_length_um / 1000.0 / square_mm
        wander = smooth_field(distance.shape, length, rng)
        distance = distance + wander * look.roughness_um / 1000.0
    cover = np.clip(0.5 - distance / square_mm, 0.0, 1.0)
    if look.pinholes_per_mm2 > 0.0:
        cover = cover * _without_pinholes(distance, along, across, look, layer.number, seed)
    return cover, _film(distance, look)


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
