"""Small picture files for tests, written by OpenCV."""

from pathlib import Path

import cv2
import numpy as np

# Not square, and different along both axes: a swapped axis or channel must show.
ROWS, COLS = 24, 36


def red_over_blue(dtype=np.uint8):
    """ROWS x COLS x 3 (R, G, B): red above, blue below, brighter to the right."""
    full = np.iinfo(dtype).max
    pixels = np.zeros((ROWS, COLS, 3), dtype)
    ramp = np.linspace(0.5, 1.0, COLS) * full
    pixels[: ROWS // 2, :, 0] = ramp
    pixels[ROWS // 2 :, :, 2] = ramp
    return pixels


def encoded(name: str, rgb_or_mono: np.ndarray) -> bytes:
    """The bytes of a file of that name; `rgb_or_mono` is R, G, B(, A) or one channel."""
    pixels = rgb_or_mono
    if pixels.ndim == 3:
        code = cv2.COLOR_RGB2BGR if pixels.shape[2] == 3 else cv2.COLOR_RGBA2BGRA
        pixels = cv2.cvtColor(pixels, code)
    options = [cv2.IMWRITE_WEBP_QUALITY, 101] if name.endswith(".webp") else []
    done, data = cv2.imencode(Path(name).suffix, pixels, options)
    assert done
    return data.tobytes()


def write(folder: Path, name: str, pixels: np.ndarray | None = None) -> Path:
    """Write a picture; the red over blue one when no other is given."""
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(encoded(name, red_over_blue() if pixels is None else pixels))
    return path
