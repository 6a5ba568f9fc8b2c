"""View: one frame prepared for measuring, and the pieces of it that a fit reads."""

import math
from dataclasses import dataclass

import cv2
import numpy as np

from regscan.camera.camera import Tone
from regscan.camera.lens import Lens
from regscan.marks.clusters import Box
from regscan.marks.seeing.inks import Palette
from regscan.marks.seeing.lateral import colours_met
from regscan.marks.seeing.light import code_slope, to_light
from regscan.marks.seeing.separate import Coarse

_ASSUMED_NOISE = 2.0 / 255.0  # of full scale in codes; fits find the true one


@dataclass(frozen=True, slots=True)
class View:
    """planes  H x W x C integers.   coarse  the shrunken frame.   palette  colours in use.

    lens   the camera's, when it was calibrated.
    """

    planes: np.ndarray
    coarse: Coarse
    palette: Palette
    tone: Tone
    lens: Lens | None = None

    @property
    def size(self) -> tuple[int, int]:
        """Rows and columns of the frame."""
        return self.planes.shape[0], self.planes.shape[1]

    def codes(self, rows: slice, cols: slice) -> np.ndarray:
        """Codes of a piece of the frame, free of the lens's lateral colour: rows x cols x C."""
        if self.lens and self.lens.parts_colours and self.planes.shape[2] == 3:
            return colours_met(self.planes, self.lens, rows, cols)
        return self.planes[rows, cols]

    def light(self, rows: slice, cols: slice) -> np.ndarray:
        """Light as a share of perfect white with uneven light divided out, rows x cols x C
        float32."""
        return self._light_and_paper(rows, cols)[0]

    def even_light(self, rows: slice, cols: slice) -> tuple[np.ndarray, np.ndarray]:
        """The same, and its inverse variance for an assumed noise; both rows x cols x C."""
        even, seen, paper = self._light_and_paper(rows, cols)
        local = cv2.blur(seen, (5, 5)).reshape(seen.shape)
        per_code = code_slope(local, self.tone) * paper / _ASSUMED_NOISE
        return even, per_code**2

    def _light_and_paper(
        self, rows: slice, cols: slice
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Light, even and as it is, and what it was divided by."""
        codes = self.codes(rows, cols)
        seen = to_light(codes, self.tone, float(np.iinfo(codes.dtype).max))
        paper = self._paper(rows, cols)[:, :, None]
        return seen / paper, seen, paper

    def _paper(self, rows: slice, cols: slice) -> np.ndarray:
        """Light on bare substrate over the substrate's colour, at full pixels."""
        factor = self.coarse.factor
        top, left = self.coarse.full(0.0, 0.0)
        matrix = np.array(
            [
                [1.0 / factor, 0.0, (cols.start - left) / factor],
                [0.0, 1.0 / factor, (rows.start - top) / factor],
            ]
        )
        return np.asarray(
            cv2.warpAffine(
                self.coarse.paper,
                matrix,
                (cols.stop - cols.start, rows.stop - rows.start),
                flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
                borderMode=cv2.BORDER_REPLICATE,
            )
        )

    def usable(self, own: list[Box], rows: slice, cols: slice) -> np.ndarray:
        """Pixels that hold one of these marks or bare substrate: bool, rows x cols.

        Print that lies clear of the marks is left out; what touches them stays in, for
        the fit to judge.
        """
        coarse = self.coarse
        step, printed = coarse.factor, coarse.printed
        top, bottom = _small_ends(rows, step, coarse.top, printed.shape[0])
        left, right = _small_ends(cols, step, coarse.left, printed.shape[1])
        foreign = printed[top : bottom + 1, left : right + 1].copy()
        for box in own:
            down = _small_within(box.row, box.half_rows + 2.0 * step, step, coarse.top + top)
            across = _small_within(box.col, box.half_cols + 2.0 * step, step, coarse.left + left)
            foreign[down, across] = False
        if not foreign.any():
            return np.ones((rows.stop - rows.start, cols.stop - cols.start), bool)
        grown = cv2.dilate(foreign.astype(np.uint8), np.ones((3, 3), np.uint8))
        row_index = np.clip(np.arange(rows.start, rows.stop) // step - coarse.top, top, bottom)
        col_index = np.clip(np.arange(cols.start, cols.stop) // step - coarse.left, left, right)
        return np.asarray(grown[row_index - top][:, col_index - left] == 0)


def _small_ends(pixels: slice, step: int, start: int, length: int) -> tuple[int, int]:
    """Which small pixels of a coarse picture show the first and the last of some full pixels;
    the nearest, beyond it."""
    first, last = pixels.start // step - start, (pixels.stop - 1) // step - start
    return min(max(first, 0), length - 1), min(max(last, 0), length - 1)


def _small_within(middle: float, half: float, step: int, start: int) -> slice:
    """Which small pixels, counted from one of them, have their own middles within half of a full
    pixel."""
    first = math.floor((middle - half) / step - 0.5) + 1 - start
    end = math.ceil((middle + half) / step - 0.5) - start
    return slice(max(first, 0), max(end, 0))


def span(middle: float, half: float, length: int) -> slice:
    """Whole pixels of an axis within `half` of `middle`, at least one, inside the frame."""
    low = int(min(max(round(middle - half), 0), length - 1))
    return slice(low, int(min(max(round(middle + half) + 1, low + 1), length)))
