"""Proof: a frame that was not used in the fit, held against the calibrated camera."""

import numpy as np

from regscan.camera.camera import Camera
from regscan.instrument.grid.middles import middle_shifts
from regscan.instrument.grid.model import facing_of
from regscan.instrument.grid.orient import oriented
from regscan.instrument.grid.seen import SeenGrid
from regscan.instrument.grid.steps import seen_residuals

_STRAYS = 5.0
_ROUNDS = 8


def hold_against(
    grid: SeenGrid, camera: Camera, pitch_mm: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray, tuple[float, float]]:
    """(nodes, residuals px N x 2, used N, scale ppm) of a grid in the web's plane.

    Only a turn and a shift are fitted. scale_ppm says by how much the camera shows lengths
    too long, circumferential and lateral.
    """
    lens = camera.lens
    assert lens is not None, "a calibrated camera has a lens"
    nodes, _ = oriented(grid, facing_of(camera), pitch_mm, lens.radius_px)
    laid = nodes @ np.array([1.0, 1j]) * pitch_mm
    places = _middles(grid, camera, pitch_mm)
    row, col = places.T
    web = np.stack(camera.to_web(row, col), axis=1) @ np.array([1.0, 1j])
    used = np.ones(len(nodes), bool)
    for _ in range(_ROUNDS):
        middle, home = web[used].mean(), laid[used].mean()
        turn = np.angle(np.vdot(laid[used] - home, web[used] - middle))
        placed = (laid - home) * np.exp(1j * turn) + middle
        off = np.abs(web - placed)
        spread = 1.4826 * float(np.median(off)) / 1.1774 + 1e-12
        kept = off < _STRAYS * spread
        if (kept == used).all():
            break
        used = kept
    straight = np.array([camera.step_to_pixels(p.real, p.imag) for p in placed])
    residuals = seen_residuals(lens, places, straight)
    return nodes, residuals, used, _scale(web[used] - middle, placed[used] - middle)


def _middles(grid: SeenGrid, camera: Camera, pitch_mm: float) -> np.ndarray:
    """Where the dots' middles are seen, N x 2 px."""
    assert camera.lens is not None
    radius_mm = grid.dot_px / grid.pitch_px * pitch_mm / 2.0
    radii = radius_mm / camera.row_mm_per_px, radius_mm / camera.col_mm_per_px
    straight = np.stack(camera.lens.straight(grid.places[:, 0], grid.places[:, 1]), axis=1)
    return grid.places - middle_shifts(camera.lens, straight, radii)


def _scale(web: np.ndarray, placed: np.ndarray) -> tuple[float, float]:
    """How much longer `web` is than `placed`, per axis, ppm."""
    design = np.column_stack([np.ones(len(web)), placed.real, placed.imag])
    along = np.linalg.lstsq(design, web.real, rcond=None)[0][1]
    across = np.linalg.lstsq(design, web.imag, rcond=None)[0][2]
    return 1e6 * (float(along) - 1.0), 1e6 * (float(across) - 1.0)
