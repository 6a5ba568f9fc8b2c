"""Places in the coarse picture where an ink's mark could be: shape and colour together."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from regscan.marks.clusters import Box, clusters, hull
from regscan.marks.seeing.separate import Coarse
from regscan.marks.shape.template import Appearance

LEAST_LIKENESS = 0.45  # of a mark that stands clear
HIDDEN_LIKENESS = 0.2  # of one that others may lie on
_LED = 0.65  # of a place to which colour and form have led
_MOST_PER_MARK = 6
_INKED = 0.25  # cover that counts as printed in this ink
_DOTS_APART = 5  # small pixels between the dots of a tint, less than that
_LEAST_BLOB = 0.1  # a blob smaller than this share of the mark is a speck
_FLAT = 0.03  # of the shape's spread of ink: what varies less is one colour, and like nothing


@dataclass(frozen=True, slots=True)
class Candidate:
    """A possible place of one design mark.

    mark        which mark of the layout (its position in the list looked for).
    row_px, col_px   full-frame pixels.
    likeness    correlation of the ink's cover map with the shape, less where the ink is weak.
    strength    mean cover of the ink within the shape, 0..1.
    near        True where the place is good to a fraction of a pixel.
    look        how the mark appeared in the frame before, where it is unlike the others there.
    """

    mark: int
    row_px: float
    col_px: float
    likeness: float
    strength: float = 1.0
    near: bool = False
    look: Appearance | None = None

    @property
    def led(self) -> bool:
        """Whether colour and form have led to it."""
        return self.likeness > _LED


def candidates(
    coarse: Coarse,
    ink: int,
    shape: np.ndarray,
    mark: int,
    *,
    least: float = LEAST_LIKENESS,
    upon: Sequence[Box] | None = None,
) -> list[Candidate]:
    """The best places of one shape in one ink's cover map, best first.

    shape   h x w float32 ink share of the mark at the coarse scale, with a rim of paper.
    least   correlation below which a place is not worth a look.
    upon    other marks: it is looked for on them and against them, however weak its colour
            seems there, since what inks make of each other is only roughly known. None looks
            wherever there is enough of its colour.
    """
    # A mark may be cut by the border, to its centre at most; beyond it nothing is printed.
    down, right = shape.shape[0] // 2, shape.shape[1] // 2
    cover = cv2.copyMakeBorder(
        coarse.cover(ink), down, down, right, right, cv2.BORDER_CONSTANT, value=0.0
    )
    found: list[Candidate] = []
    if upon is None:
        windows = _inked_windows(cover, shape)
    else:
        windows = _about(coarse, upon, shape, (down, right))
    for window in windows:
        likeness = _likeness(cover[window], shape)
        corner = window[0].start, window[1].start  # a shape's corner there has its centre in both
        for row, col, best in _peaks(likeness, shape.shape, least):
            # Correlation does not see how strong the ink is; a shadow of another ink is weak.
            under = cover[window][row : row + shape.shape[0], col : col + shape.shape[1]]
            strength = min(float((under * shape).sum() / (shape * shape).sum()), 1.0)
            place = coarse.full(
                corner[0] + row + _vertex(likeness[:, col], row),
                corner[1] + col + _vertex(likeness[row], col),
            )
            found.append(Candidate(mark, *place, best * math.sqrt(max(strength, 0.0)), strength))
    return distinct(found, 0.5 * min(shape.shape) * coarse.factor)[:_MOST_PER_MARK]


def nearby(
    coarse: Coarse, ink: int, shape: np.ndarray, place: tuple[float, float], reach_px: float
) -> tuple[float, float] | None:
    """The best place of one shape in one ink's cover map within reach of a full-frame place;
    None where nothing there is like it."""
    row, col = coarse.small(*place)
    reach = math.ceil(reach_px / coarse.factor)
    rows = _around(row, reach + shape.shape[0] // 2, coarse.colours.shape[0])
    cols = _around(col, reach + shape.shape[1] // 2, coarse.colours.shape[1])
    window = coarse.cover(ink, rows, cols)
    if window.shape[0] < shape.shape[0] or window.shape[1] < shape.shape[1]:
        return None
    likeness = cv2.matchTemplate(window, shape, cv2.TM_CCOEFF_NORMED)
    _, best, _, (right, down) = cv2.minMaxLoc(likeness)
    if not LEAST_LIKENESS <= best <= 1.001:  # a window of one colour gives no number
        return None
    return coarse.full(
        rows.start + shape.shape[0] // 2 + down + _vertex(likeness[:, right], down),
        cols.start + shape.shape[1] // 2 + right + _vertex(likeness[down], right),
    )


def _likeness(cover: np.ndarray, shape: np.ndarray) -> np.ndarray:
    """Correlation of a cover map with the shape at every place; -1 where the map is flat, for
    which rounding alone would give any number."""
    likeness = cv2.matchTemplate(cover, shape, cv2.TM_CCOEFF_NORMED)
    height, width = likeness.shape
    size = shape.shape[1], shape.shape[0]
    mean, square = (
        cv2.boxFilter(picture, cv2.CV_64F, size, anchor=(0, 0))[:height, :width]
        for picture in (cover, cover * cover)
    )
    likeness[square - mean * mean < (_FLAT * shape.std()) ** 2] = -1.0
    return np.asarray(likeness)


def _around(middle: float, half: int, length: int) -> slice:
    low = max(round(middle) - half, 0)
    return slice(low, min(max(round(middle) + half + 1, low), length))


def distinct(found: Sequence[Candidate], apart_px: float) -> list[Candidate]:
    """Candidates of one mark, best first; of two at one place only the better."""
    kept: list[Candidate] = []
    for one in sorted(found, key=lambda c: -c.likeness):
        gaps = (math.hypot(one.row_px - k.row_px, one.col_px - k.col_px) for k in kept)
        if all(gap >= apart_px for gap in gaps):
            kept.append(one)
    return kept


Window = tuple[slice, slice]


def _about(
    coarse: Coarse, boxes: Sequence[Box], shape: np.ndarray, border: tuple[int, int]
) -> list[Window]:
    """Windows in which a shape touches one of some boxes; one for all that meet. They are of a
    coarse picture with so many rows and columns around it."""
    windows = []
    for group in clusters(boxes, 0.0):
        whole = hull([boxes[k] for k in group])
        top, left = coarse.small(whole.row - whole.half_rows, whole.col - whole.half_cols)
        bottom, right = coarse.small(whole.row + whole.half_rows, whole.col + whole.half_cols)
        height, width = (n + 2 * b for n, b in zip(coarse.colours.shape[:2], border, strict=True))
        start = math.floor(top) + border[0], math.floor(left) + border[1]
        rows = _span(start[0], math.ceil(bottom - top), shape.shape[0], height)
        cols = _span(start[1], math.ceil(right - left), shape.shape[1], width)
        if rows and cols:
            windows.append((rows, cols))
    return windows


def _inked_windows(cover: np.ndarray, shape: np.ndarray) -> list[Window]:
    """Windows around what is printed in this ink, large enough to be the mark or part of it.

    Each is wide enough for the shape to be tried everywhere on its blob.
    """
    inked = (cover > _INKED).astype(np.uint8)
    # A tint's dots are too small each: taken together, they may be a mark.
    dots = np.ones((_DOTS_APART, _DOTS_APART), np.uint8)
    together = cv2.morphologyEx(inked, cv2.MORPH_CLOSE, dots)
    least = _LEAST_BLOB * float(shape.sum())
    boxes: list[tuple[int, int, int, int]] = []
    for blobs in (inked, together):
        outlines, _ = cv2.findContours(blobs, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
        large = [box for box in map(cv2.boundingRect, outlines) if box[2] * box[3] >= least]
        boxes += [(x, y, w, h) for x, y, w, h in large if not _holds_one((x, y, w, h), boxes)]
    windows = []
    for left, top, width, height in boxes:
        rows = _span(top, height, shape.shape[0], cover.shape[0])
        cols = _span(left, width, shape.shape[1], cover.shape[1])
        if rows and cols:
            windows.append((rows, cols))
    return windows


def _holds_one(box: tuple[int, int, int, int], others: Sequence[tuple[int, int, int, int]]) -> bool:
    """Whether a box (left, top, width, height) has another's corner in it."""
    left, top, width, height = box
    return any(left <= x < left + width and top <= y < top + height for x, y, _, _ in others)


def _span(start: int, length: int, shape: int, limit: int) -> slice | None:
    low, high = max(start - shape, 0), min(start + length + shape, limit)
    return slice(low, high) if high - low >= shape else None


def _peaks(
    likeness: np.ndarray, size: tuple[int, ...], least: float
) -> list[tuple[int, int, float]]:
    """(row, col, likeness) of the highest places, no two on one mark."""
    found = []
    left = likeness.copy()
    reach_rows, reach_cols = max(size[0] // 3, 1), max(size[1] // 3, 1)
    for _ in range(_MOST_PER_MARK):
        row, col = map(int, np.unravel_index(int(left.argmax()), left.shape))
        best = float(left[row, col])
        if best < least:
            break
        found.append((row, col, best))
        left[
            max(row - reach_rows, 0) : row + reach_rows + 1,
            max(col - reach_cols, 0) : col + reach_cols + 1,
        ] = -1.0
    return found


def _vertex(line: np.ndarray, at: int) -> float:
    """Top of the parabola through a peak and its two neighbours, relative to the peak."""
    if not 0 < at < line.size - 1:
        return 0.0
    before, top, after = (float(v) for v in line[at - 1 : at + 2])
    bend = before - 2.0 * top + after
    return 0.5 * (before - after) / bend if bend < 0.0 else 0.0
