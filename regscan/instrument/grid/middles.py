"""Middles: a bent picture of a dot has its middle beside the picture of the dot's middle.

The larger the dot and the more the lens bends (or the more askew it looks), the further:
for a disc of r px under a bending of b px per px^2 about 3/8 r^2 b, all inward or all
outward, so that it would pass for a wrong scale.
"""

import numpy as np

from regscan.camera.lens import Lens

_CORNERS = 24


def middle_shifts(lens: Lens, straight: np.ndarray, radius_px: tuple[float, float]) -> np.ndarray:
    """N x 2 (row, col) px: middle of each dot's picture, less the picture of its middle.

    straight    N x 2 straight places of the dots' middles.
    radius_px   of a dot in the straight picture, along rows and along columns; 0 for corners.
    """
    if not min(radius_px) > 0.0:
        return np.zeros(straight.shape)
    turns = np.linspace(0.0, 2.0 * np.pi, _CORNERS, endpoint=False)
    rows = straight[:, :1] + radius_px[0] * np.cos(turns)
    cols = straight[:, 1:] + radius_px[1] * np.sin(turns)
    seen = np.stack(lens.seen(rows, cols), axis=2)
    home = np.stack(lens.seen(straight[:, 0], straight[:, 1]), axis=1)
    return _centroids(seen - home[:, None])


def _centroids(outlines: np.ndarray) -> np.ndarray:
    """N x 2 centroids of N polygons of K x 2 corners."""
    following = np.roll(outlines, -1, axis=1)
    twice = outlines[..., 0] * following[..., 1] - outlines[..., 1] * following[..., 0]
    moments = ((outlines + following) * twice[..., None]).sum(axis=1)
    return np.asarray(moments / (3.0 * twice.sum(axis=1)[:, None]))
