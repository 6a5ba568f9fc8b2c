"""The decoders of the extra `fast`: whether they are there, and what they make of a file."""

import importlib.util
from collections.abc import Callable
from functools import cache

import numpy as np


@cache
def fast_decoders() -> bool:
    """Whether imagecodecs is there; looked for once."""
    return importlib.util.find_spec("imagecodecs") is not None


def decoded_by(
    decode: Callable[[bytes], np.ndarray], data: bytes, mode: str, size: tuple[int, int]
) -> np.ndarray | None:
    """H x W x 3 where Pillow calls the file's mode RGB, else H x W; None where that is not what
    comes out: OpenCV then says whether the file can be read.

    size   H and W.
    """
    try:
        pixels = decode(data)
    except (RuntimeError, ValueError, MemoryError):
        return None
    return pixels if pixels.shape == ((*size, 3) if mode == "RGB" else size) else None
