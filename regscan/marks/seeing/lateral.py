"""Lateral colour: a piece of the frame with red and blue brought to where green shows things.

Within one mark the lens's shift is nearly the same everywhere, so each channel is moved
as a whole, by the shift at the piece's middle: whole pixels by taking others, the rest by
interpolation over eight, which moves any picture that a lens has softened without a trace.
"""

import math

import numpy as np

from regscan.camera.lens import LateralColour, Lens

_HALF = 4  # taps on each side
_FINER = 257  # 8-bit codes become 16-bit ones, so that moving them costs no rounding


def colours_met(planes: np.ndarray, lens: Lens, rows: slice, cols: slice) -> np.ndarray:
    """rows x cols x 3 uint16 codes of a piece of the frame, as if the lens had no lateral colour.

    planes   the whole frame, H x W x 3, uint8 or uint16.
    """
    finer = _FINER if planes.dtype == np.uint8 else 1
    piece = planes[rows, cols].astype(np.float32) * finer
    middle = (rows.start + rows.stop - 1) / 2.0, (cols.start + cols.stop - 1) / 2.0
    for channel, colour in ((0, lens.red), (2, lens.blue)):
        if colour != LateralColour():
            shift = lens.colour_shift(colour, *middle)
            piece[..., channel] = finer * _moved(planes[..., channel], rows, cols, shift)
    return np.clip(np.rint(piece), 0, 65535).astype(np.uint16)


def _moved(plane: np.ndarray, rows: slice, cols: slice, by: tuple[float, float]) -> np.ndarray:
    """plane[rows + by, cols + by] as float32, the border repeated beyond the frame."""
    import cv2

    index, kernels = [], []
    for piece, step, length in zip((rows, cols), by, plane.shape, strict=True):
        whole = int(np.floor(step))
        reach = np.arange(piece.start - _HALF, piece.stop + _HALF) + whole
        index.append(np.clip(reach, 0, length - 1))
        kernels.append(_taps(step - whole))
    source = plane[np.ix_(*index)].astype(np.float32)
    moved = cv2.sepFilter2D(source, cv2.CV_32F, kernels[1], kernels[0], anchor=(_HALF - 1,) * 2)
    return np.asarray(moved[_HALF:-_HALF, _HALF:-_HALF])


def _taps(part: float) -> np.ndarray:
    """Weights of the pixels from 3 before to 4 after, for a place `part` of a pixel on."""
    # Lagrange's: right for every polynomial up to the 7th degree, so an edge is neither moved
    # nor made lopsided. A windowed sinc keeps more of the finest detail, but pulls edges 0.01 px.
    pixels = range(1 - _HALF, _HALF + 1)
    return np.array(
        [
            math.prod((part - other) / (own - other) for other in pixels if other != own)
            for own in pixels
        ]
    )
