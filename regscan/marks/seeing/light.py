"""From pixel codes to light: the tone curve, its slope, and raw mosaic to colour."""

from functools import lru_cache

import cv2
import numpy as np

from regscan.camera.camera import Camera, Tone

_MOSAIC_CODES = {
    # OpenCV names a pattern by its second row's middle pixels; these give R, G, B order out.
    "rggb": cv2.COLOR_BayerBG2RGB,
    "bggr": cv2.COLOR_BayerRG2RGB,
    "grbg": cv2.COLOR_BayerGB2RGB,
    "gbrg": cv2.COLOR_BayerGR2RGB,
}


def colour_planes(pixels: np.ndarray, camera: Camera) -> np.ndarray:
    """Pixels as H x W x C, same type: raw mosaics are interpolated (bilinear), mono has C = 1."""
    if pixels.ndim == 3:
        return pixels
    if camera.mosaic:
        # Bilinear keeps a well-sampled mark's centre; edge-directed methods pull it.
        return np.asarray(cv2.cvtColor(pixels, _MOSAIC_CODES[camera.mosaic]))
    return pixels[:, :, None]


def to_light(codes: np.ndarray, tone: Tone, full_scale: float) -> np.ndarray:
    """Light as a share of full scale (float32) from integer pixel codes of any shape."""
    return looked_up(_curve(tone, int(full_scale)), codes)


def looked_up(table: np.ndarray, codes: np.ndarray) -> np.ndarray:
    """A float32 table's value for every code, in the shape of codes."""
    if codes.dtype == np.uint8 and codes.ndim >= 2:
        return np.asarray(cv2.LUT(codes, table)).reshape(codes.shape)
    return np.asarray(table[codes])


@lru_cache(maxsize=8)
def _curve(tone: Tone, full_scale: int) -> np.ndarray:
    share = np.arange(full_scale + 1) / full_scale
    return (srgb_to_light(share) if tone == "srgb" else share).astype(np.float32)


def srgb_to_light(share: np.ndarray) -> np.ndarray:
    """Inverse of the sRGB curve (IEC 61966-2-1), 0..1 to 0..1."""
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)


def code_slope(light: np.ndarray, tone: Tone) -> np.ndarray:
    """How much a pixel's code (share of full scale) changes per change of light.

    Camera noise is even in codes, so in light it is noise / slope.
    """
    if tone == "linear":
        return np.ones_like(light)
    safe = np.maximum(light, 1e-4)
    return np.where(safe <= 0.0031308, 12.92, 1.055 / 2.4 * safe ** (1.0 / 2.4 - 1.0))
