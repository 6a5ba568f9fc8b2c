"""Contact sheets: many frames of a run on one picture, worst first."""

from collections.abc import Sequence

import numpy as np

from regscan.report.captions import caption, fitted
from regscan.report.labels import Box
from regscan.report.overlay import MARGIN, Marked, Shown, Style, labelled, mark_up
from regscan.report.pen import DARK
from regscan.report.sights import Sight
from regscan.report.signs import around

COLUMNS, ROWS = 4, 3
CELL = (460, 300)  # width and height of a frame on the sheet, px
GAP = 12
_DRAWN_PX = 960  # marks are drawn at this width and then made small, so that lines are smooth


def draw_sheet(cells: Sequence[Shown], first: int, title: Sequence[str]) -> np.ndarray:
    """One sheet of up to COLUMNS x ROWS frames: H x W x 3 uint8 (R, G, B).

    first   the rank of the first cell, counted from 1.

    Every cell shows the part of the frame where its marks lie, with the stations'
    numbers and one magnification of the offsets for the whole sheet; the words under
    it stand on the colour of its state and say it.
    """
    enlarged = min(shown.magnification for shown in cells)
    pictures = [_cell(shown, enlarged, first + k) for k, shown in enumerate(cells)]
    rows = [_row(pictures[k : k + COLUMNS]) for k in range(0, len(pictures), COLUMNS)]
    wide = rows[0].shape[1]
    words = [
        *title,
        f"Thick line: offset from the design place (dashed). Box: tolerance."
        f" Both drawn {enlarged} x as large as the marks.",
    ]
    return np.vstack([fitted(words, (wide, 0.0), 1.2, DARK), *rows])


def _cell(shown: Shown, enlarged: int, rank: int) -> np.ndarray:
    marked = mark_up(shown, Style(_DRAWN_PX, 2.0, enlarged))
    words = caption(shown.frame.info.name, shown.marks, shown.offsets, shown.job)
    lines = [f"{rank}. {words.where}", *_short(words.state), *([words.weak] if words.weak else [])]
    below = fitted(lines, (CELL[0], 0.0), 0.9, words.ground)
    return np.vstack([_cut(marked), below])


def _short(state: str) -> list[str]:
    """The state in one line: the worst colour and how many more."""
    first, *more = state.split("; ")
    return [f"{first}; and {len(more)} more" if more else first]


def _tag(sight: Sight) -> str:
    """The station's number, and in words what is wrong with its mark."""
    return sight.lines[0] if sight.status != "ok" else sight.lines[0].split()[0]


def _cut(marked: Marked) -> np.ndarray:
    """The part of the picture that holds everything drawn, made as large as a cell."""
    import cv2

    pen, tags = labelled(marked, [[_tag(sight)] for sight in marked.seen])
    rows, cols = pen.picture.shape[:2]
    boxes = [*(around(pen, sight).grown(12.0) for sight in marked.seen), *tags]
    whole = Box(0.0, 0.0, float(cols), float(rows))
    box = _shaped(Box.around(boxes or [whole]), CELL[0] / CELL[1])
    scale = CELL[0] / box.width
    move = np.array([[scale, 0.0, -scale * box.left], [0.0, scale, -scale * box.top]])
    soft = cv2.GaussianBlur(pen.picture, (0, 0), 0.35 / scale) if scale < 1.0 else pen.picture
    return np.asarray(cv2.warpAffine(soft, move, CELL, flags=cv2.INTER_LINEAR, borderValue=MARGIN))


def _shaped(box: Box, ratio: float) -> Box:
    """The smallest box of this width over height about the same centre that holds it."""
    wide = max(box.width, ratio * box.height)
    return Box.about(*box.centre, wide / 2, wide / ratio / 2)


def _row(pictures: Sequence[np.ndarray]) -> np.ndarray:
    """Cells side by side on the margin's ground; a short row is filled up."""
    high = max(picture.shape[0] for picture in pictures)
    wide = COLUMNS * (CELL[0] + GAP) + GAP
    row = np.full((high + GAP, wide, 3), MARGIN, np.uint8)
    for k, picture in enumerate(pictures):
        left = GAP + k * (CELL[0] + GAP)
        row[GAP // 2 : GAP // 2 + picture.shape[0], left : left + CELL[0]] = picture
    return row
