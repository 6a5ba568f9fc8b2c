"""Pictures with pixels taken together, in which marks are drawn near their places."""

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np

from regscan.camera.camera import Camera
from regscan.marks.clusters import Box
from regscan.marks.overlap.mixture import Picture
from regscan.marks.overlap.scene import Window

_COARSE_SPAN = 7.0
_COARSEST = 8
_FINEST_COARSE = 3
_LARGE_PX2 = 120 * 120


def coarse_factors(boxes: Sequence[Box], window: Window) -> list[int]:
    """Pixels taken together to draw near: first so that the smallest mark spans a few;
    large scenes also two by two, since a round at full pixels is costly there."""
    size = 2.0 * min(min(b.half_rows, b.half_cols) for b in boxes)
    first = int(min(size / _COARSE_SPAN, _COARSEST))
    factors = [factor for factor in (first, first // 2) if factor >= _FINEST_COARSE]
    large = window.rows * window.cols > _LARGE_PX2
    return [*factors, 2] if large else factors


def binned_camera(camera: Camera, factor: int) -> Camera:
    """The camera as if its pixels were `factor` times as large, for shapes only."""
    return replace(
        camera,
        row_mm_per_px=camera.row_mm_per_px * factor,
        col_mm_per_px=camera.col_mm_per_px * factor,
        lens=None,
    )


def binned(picture: Picture, factor: int) -> Picture:
    """The picture with factor x factor pixels taken together; its window starts at 0, 0."""
    window, light, weight = picture.window, picture.light, picture.weight
    rows, cols = window.rows // factor, window.cols // factor
    own = Window(0, 0, rows, cols)
    if factor == 1:
        return Picture(own, light, weight)

    def mean(values: np.ndarray) -> np.ndarray:
        cut = np.ascontiguousarray(values[: rows * factor, : cols * factor])
        bins = cv2.resize(cut, (cols, rows), interpolation=cv2.INTER_AREA)
        return bins.reshape(rows, cols, -1)

    # A bin with one unusable pixel is unusable: its mean would be of something else.
    whole = mean((weight > 0.0).astype(np.float32)) > 1.0 - 0.5 / factor**2
    return Picture(own, mean(light), mean(weight) * factor**2 * whole, factor)
