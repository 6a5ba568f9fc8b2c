"""Doubt of a calibration: what the spread of the nodes leaves unknown, in words of the web."""

from collections.abc import Sequence

import numpy as np

from regscan.camera.camera import Camera
from regscan.camera.lens import CalibrationDoubt
from regscan.instrument.grid.found import GridFit

_SIDE = 9  # places per axis at which the fitted picture's own doubt is looked at
_STEP_PX = 0.01


def calibration_doubt(fit: GridFit, camera: Camera) -> CalibrationDoubt:
    """Scale, rotation and smooth bending, one sigma each; colour is left at 0.

    The covariance of the fit says how the map from frame to web may be off. What of that
    is a stretch or a turn counts as doubt of scale and rotation. The rest of it, and any
    bending that neighbouring nodes show alike in their residuals, is `residual_px`.
    """
    along, across, rest_mm = _spread_of_map(fit, camera)
    smooth = smooth_px(fit.nodes, fit.residuals, fit.used)
    return CalibrationDoubt(
        circumferential_scale_ppm=1e6 * float(along[0]),
        lateral_scale_ppm=1e6 * float(across[1]),
        rotation_deg=float(np.degrees(max(along[1], across[0]))),
        residual_px=float(np.hypot(smooth, rest_mm / camera.mm_per_px)),
    )


def _spread_of_map(fit: GridFit, camera: Camera) -> tuple[np.ndarray, np.ndarray, float]:
    """sd of how circumferential mm, and lateral mm, change per mm along and across; rest in mm."""
    rows, cols = fit.layout.start.rows_px, fit.layout.start.cols_px
    row, col = (
        grid.ravel()
        for grid in np.meshgrid(
            *(np.linspace(0.0, n - 1.0, _SIDE) for n in (rows, cols)), indexing="ij"
        )
    )
    here = _web(fit, camera, fit.vector, row, col)
    values, vectors = np.linalg.eigh(fit.covariance)
    design = np.column_stack([np.ones(len(row)), here])
    gains = np.zeros((2, 2))
    rest = 0.0
    for variance, way in zip(np.maximum(values, 0.0), vectors.T, strict=True):
        moved = _web(fit, camera, fit.vector + _STEP_PX * way, row, col)
        field = (moved - here) / _STEP_PX
        found = np.linalg.lstsq(design, field, rcond=None)[0]
        gains += variance * found[1:].T ** 2
        rest += variance * float(((field - design @ found) ** 2).mean())
    along, across = np.sqrt(gains)
    return along, across, float(np.sqrt(rest))


def _web(
    fit: GridFit, camera: Camera, vector: np.ndarray, row: np.ndarray, col: np.ndarray
) -> np.ndarray:
    seen = fit.layout.camera(vector, camera)
    return np.stack(seen.to_web(row, col), axis=1)  # type: ignore[arg-type]


def smooth_px(
    nodes: Sequence[np.ndarray], residuals: Sequence[np.ndarray], used: Sequence[np.ndarray]
) -> float:
    """sd of the part of the residuals that neighbouring nodes have in common, px per axis.

    Errors of single nodes are as often alike as opposite; their products come to nothing.
    """
    products: list[float] = []
    for grid, off, kept in zip(nodes, residuals, used, strict=True):
        index = {(int(i), int(j)): off[k] for k, (i, j) in enumerate(grid) if kept[k]}
        for (i, j), own in index.items():
            for other in (index.get((i + 1, j)), index.get((i, j + 1))):
                if other is not None:
                    products.append(float(own @ other) / 2.0)
    return float(np.sqrt(max(float(np.mean(products)), 0.0))) if products else 0.0
