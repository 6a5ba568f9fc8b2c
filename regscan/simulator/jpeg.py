"""JPEG: what a camera that compresses its frames hands on."""

import numpy as np

from regscan.simulator.look import Jpeg


def jpeg_round_trip(pixels: np.ndarray, jpeg: Jpeg) -> np.ndarray:
    """8-bit pixels (rows x cols or rows x cols x 3, R G B) compressed and read back."""
    import cv2

    chroma = "420" if jpeg.halved_chroma else "444"
    sampling = getattr(cv2, f"IMWRITE_JPEG_SAMPLING_FACTOR_{chroma}")
    settings = [cv2.IMWRITE_JPEG_QUALITY, jpeg.quality]
    settings += [cv2.IMWRITE_JPEG_SAMPLING_FACTOR, sampling]
    order = np.ascontiguousarray(pixels[..., ::-1]) if pixels.ndim == 3 else pixels
    done, data = cv2.imencode(".jpg", order, settings)
    assert done, "an 8-bit picture can be encoded"
    back = np.asarray(cv2.imdecode(data, cv2.IMREAD_UNCHANGED))
    return np.ascontiguousarray(back[..., ::-1]) if back.ndim == 3 else back
