"""From light on the web to the pixels of a frame: blur, tone, noise, whole levels."""

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter

from regscan.recording.frame import Frame, FrameInfo


@dataclass(frozen=True)
class Optics:
    """How the frame is taken.

    blur_px   Gaussian softness of lens and print, one sigma in px.
    tone      "srgb" or "linear".
    noise     one sigma, in levels of an 8-bit picture.
    bits      8 or 16.
    """

    blur_px: float = 0.8
    tone: str = "srgb"
    noise: float = 0.0
    bits: int = 8


def srgb_coded(light: np.ndarray) -> np.ndarray:
    """sRGB curve of IEC 61966-2-1, 0..1 to 0..1."""
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


def frame_of(light: np.ndarray, optics: Optics, seed: int = 0, name: str = "page.png") -> Frame:
    """A frame from H x W x 3 (or H x W) linear light 0..1."""
    sigmas = (optics.blur_px, optics.blur_px, 0)[: light.ndim]
    seen = gaussian_filter(light, sigmas, mode="nearest") if optics.blur_px else light
    coded = srgb_coded(np.clip(seen, 0, 1)) if optics.tone == "srgb" else seen
    full = 2**optics.bits - 1
    levels = coded * full
    if optics.noise:
        unit = full / 255
        levels = levels + np.random.default_rng(seed).normal(0, optics.noise * unit, levels.shape)
    pixels = np.clip(np.rint(levels), 0, full).astype(np.uint8 if optics.bits == 8 else np.uint16)
    return Frame(FrameInfo(name, 0), pixels)
