"""Places in the coarse picture where an ink's mark could be: shape and colour together."""

from dataclasses import dataclass

import cv2
import numpy as np

from regscan.marks.separate import Coarse

_LEAST_LIKENESS = 0.45
_MOST_PER_MARK = 6


@dataclass(frozen=True, slots=True)
class Candidate:
    """A possible place of one design mark.

    mark        which mark of the layout (its position in the list looked for).
    row_px, col_px   full-frame pixels.
    likeness    correlation of the ink's cover map with the shape, -1..1.
    """

    mark: int
    row_px: float
    col_px: float
    likeness: float


def candidates(coarse: Coarse, ink: int, shape: np.ndarray, mark: int) -> list[Candidate]:
    """The best places of one shape in one ink's cover map, best first.

    shape   h x w float32 ink share of the mark at the coarse scale, with a rim of paper.
    """
    cover = coarse.covers[ink]
    rim_rows, rim_cols = shape.shape[0] // 2, shape.shape[1] // 2
    padded = cv2.copyMakeBorder(
        cover, rim_rows, rim_rows, rim_cols, rim_cols, cv2.BORDER_CONSTANT, value=0.0
    )
    if not (cover > 0.25).any():
        return []
    likeness = cv2.matchTemplate(padded, shape, cv2.TM_CCOEFF_NORMED)
    # Where the map is flat the correlation is noise over noise.
    inked = cv2.matchTemplate(padded, shape, cv2.TM_CCORR) / float((shape * shape).sum())
    likeness[(inked < 0.15) | ~np.isfinite(likeness)] = -1.0
    return _peaks(coarse, likeness, shape.shape, mark)


def _peaks(
    coarse: Coarse, likeness: np.ndarray, size: tuple[int, ...], mark: int
) -> list[Candidate]:
    found = []
    reach_rows, reach_cols = max(size[0] // 3, 1), max(size[1] // 3, 1)
    for _ in range(_MOST_PER_MARK):
        row, col = np.unravel_index(int(likeness.argmax()), likeness.shape)
        best = float(likeness[row, col])
        if best < _LEAST_LIKENESS:
            break
        place = coarse.full(
            row + _vertex(likeness[:, col], int(row)), col + _vertex(likeness[row], int(col))
        )
        found.append(Candidate(mark, place[0], place[1], best))
        likeness[
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
