"""PNG by the decoder that is fastest for it, where it is installed (the extra `png`)."""

import importlib.util
from functools import cache

import numpy as np

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_PLAIN = ("RGB", "L", "I;16")  # Pillow's names; palettes, alpha and the like are left to OpenCV


def fast_png(data: bytes, mode: str, size: tuple[int, int]) -> np.ndarray | None:
    """H x W x 3 (R, G, B) or H x W, the same values as OpenCV's decoder gives.

    mode   Pillow's name of what the file holds.   size   rows and columns its header names.
    None where it is no plain PNG, is not whole, or imagecodecs is not installed.
    """
    if mode not in _PLAIN or not data.startswith(_SIGNATURE) or not _installed():
        return None
    from imagecodecs import png_decode

    try:
        pixels: np.ndarray = png_decode(data)
    except (RuntimeError, ValueError, MemoryError):  # OpenCV then says whether it can be read
        return None
    wanted = (*size, 3) if mode == "RGB" else size
    return pixels if pixels.shape == wanted else None


@cache
def _installed() -> bool:
    return importlib.util.find_spec("imagecodecs") is not None
