"""Lens and light: softness, smear along the web, uneven illumination.

All of it acts on linear light, before the sensor's tone curve.
"""

import math

import numpy as np

from regscan.camera.camera import Camera
from regscan.simulator.bent import farthest_px
from regscan.simulator.look import Lens, Shot
from regscan.units import m_per_s


def smear_px(lens: Lens, camera: Camera, shot: Shot) -> tuple[float, float]:
    """(row, col) px the web moves during the flash."""
    speed = shot.speed_m_min or 0.0
    # m/s x us = um; the web travels toward - circumferential.
    return camera.step_to_pixels(-m_per_s(speed) * lens.strobe_us / 1000.0, 0.0)


def margin_px(lens: Lens, camera: Camera, shot: Shot) -> float:
    """How far around a mark the lens carries its ink, px."""
    row, col = smear_px(lens, camera, shot)
    smear = max(abs(row), abs(col)) / 2.0
    return 4.5 * lens.blur_px + smear + farthest_px(camera.lens) + 2.0


def through_lens(
    light: np.ndarray, lens: Lens, smear: tuple[float, float], fine: int
) -> np.ndarray:
    """Blur a fine grid (fine squares per pixel) and gather it into whole pixels.

    The smear is centred: a mark's place is where it was in the middle of the flash.
    """
    import cv2

    if math.hypot(*smear) * fine > 0.1:
        kernel = _smear_kernel(smear[0] * fine, smear[1] * fine)
        light = cv2.filter2D(light, -1, kernel, borderType=cv2.BORDER_REPLICATE)
    if lens.blur_px > 0.0:
        sigma = lens.blur_px * fine
        size = 2 * math.ceil(4.5 * sigma) + 1
        light = cv2.GaussianBlur(light, (size, size), sigma, borderType=cv2.BORDER_REPLICATE)
    rows, cols = light.shape[0] // fine, light.shape[1] // fine
    return np.asarray(light.reshape(rows, fine, cols, fine, -1).mean(axis=(1, 3)))


def _smear_kernel(rows: float, cols: float) -> np.ndarray:
    """A line of even light from one end to the other, shared out to its nearest squares."""
    half = math.ceil(max(abs(rows), abs(cols)) / 2.0) + 1
    kernel = np.zeros((2 * half + 1, 2 * half + 1))
    count = max(64, 16 * half)
    for share in (np.arange(count) + 0.5) / count - 0.5:
        row, col = share * rows + half, share * cols + half
        r, c = math.floor(row), math.floor(col)
        kernel[r, c] += (1 - row + r) * (1 - col + c)
        kernel[r + 1, c] += (row - r) * (1 - col + c)
        kernel[r, c + 1] += (1 - row + r) * (col - c)
        kernel[r + 1, c + 1] += (row - r) * (col - c)
    return np.asarray(kernel / kernel.sum(), dtype=np.float32)


def uneven_grey(lens: Lens, rows: int, cols: int) -> np.ndarray:
    """Brightness of the substrate against the frame's middle, grey levels of 255, rows x cols."""
    down = np.linspace(-1.0, 1.0, rows, dtype=np.float32)[:, None]
    right = np.linspace(-1.0, 1.0, cols, dtype=np.float32)[None, :]
    turn = math.radians(lens.slope_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    # From one end of the frame to the other, along the slope's own direction, it is 1 in all.
    slope = (right * cos + down * sin) / (2.0 * (abs(cos) + abs(sin)))
    return lens.slope_grey * slope - lens.vignette_grey * (down**2 + right**2) / 2.0
