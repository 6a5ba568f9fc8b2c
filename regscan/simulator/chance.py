"""Chance: one independent random stream per purpose, all from the frame's seed.

Separate streams keep a frame comparable with itself: more noise leaves the
roughness of its edges as it was.
"""

import numpy as np

STREAMS = ("roughness", "pinholes", "specks", "grain", "shot noise", "read noise", "motion", "log")


def stream(seed: int, purpose: str, number: int = 0) -> np.random.Generator:
    """The generator for one purpose (a name in STREAMS) and, say, one mark."""
    return np.random.default_rng([seed, STREAMS.index(purpose), number])


def smooth_field(shape: tuple[int, int], length_px: float, rng: np.random.Generator) -> np.ndarray:
    """Gaussian random field, mean 0, sd 1; its correlation falls to 1/e over length_px.

    White noise drawn on a grid of a quarter of that length and smoothed there is
    brought up to the full grid: quick for long lengths, exact enough (sd within 2 %).
    """
    import cv2

    step = max(length_px / 4.0, 1.0)
    sigma = max(length_px / 2.0 / step, 1e-3)
    margin = int(np.ceil(4.0 * sigma)) + 2
    rows, cols = (int(np.ceil(n / step)) + 2 * margin for n in shape)
    white = rng.standard_normal((rows, cols), dtype=np.float32)
    size = 2 * int(np.ceil(4.0 * sigma)) + 1
    kernel = cv2.getGaussianKernel(size, sigma, cv2.CV_32F)
    field = cv2.sepFilter2D(white, cv2.CV_32F, kernel, kernel) / float(np.sum(kernel**2))
    at_row = ((np.arange(shape[0]) / step) + margin).astype(np.float32)
    at_col = ((np.arange(shape[1]) / step) + margin).astype(np.float32)
    cols_map, rows_map = np.meshgrid(at_col, at_row)
    return np.asarray(cv2.remap(np.asarray(field, np.float32), cols_map, rows_map, cv2.INTER_CUBIC))
