"""A camera frame as a picture for people: 8-bit sRGB, large enough, whatever the camera gave."""

import numpy as np

from regscan.camera.camera import Camera
from regscan.recording.frame import Frame

# OpenCV names a mosaic by its second row's second and third pixel, so the names look swapped.
_DEMOSAIC = {"rggb": "BayerBG", "bggr": "BayerRG", "grbg": "BayerGB", "gbrg": "BayerGR"}


def for_the_eye(frame: Frame, camera: Camera) -> np.ndarray:
    """H x W x 3 uint8 (R, G, B) of a frame; a mosaic is filled in, linear light gets its curve."""
    import cv2

    pixels = frame.pixels
    if pixels.ndim == 2 and camera.mosaic:
        code = getattr(cv2, f"COLOR_{_DEMOSAIC[camera.mosaic]}2RGB")
        pixels = cv2.cvtColor(pixels, code)
    elif pixels.ndim == 2:
        pixels = np.repeat(pixels[:, :, None], 3, axis=2)
    share = pixels.astype(np.float32) / frame.full_scale
    if camera.tone == "linear":
        share = np.where(share <= 0.0031308, 12.92 * share, 1.055 * share ** (1 / 2.4) - 0.055)
    return np.ascontiguousarray(np.round(255.0 * share).astype(np.uint8))


MOST = 4  # times; more only shows the pixels


def zoom_for(cols: int, wide_px: int) -> int:
    """Whole-number enlargement that makes a frame at least so wide; 1 for one wide enough."""
    return min(max(-(-wide_px // cols), 1), MOST)


def zoomed(picture: np.ndarray, zoom: int) -> np.ndarray:
    """H x W x 3 uint8, `zoom` times as large."""
    if zoom == 1:
        return picture
    import cv2

    large = cv2.resize(picture, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_CUBIC)
    return np.ascontiguousarray(large)
