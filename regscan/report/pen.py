"""Lines and words on a picture that show on any ink: dark strokes on a light rim."""

import unicodedata
from dataclasses import dataclass

import numpy as np

from regscan.report.labels import Box
from regscan.report.sights import Point

Colour = tuple[int, int, int]
DARK: Colour = (16, 24, 32)
LIGHT: Colour = (255, 255, 255)
IN: Colour = (0, 86, 130)
OUT: Colour = (176, 36, 8)
DOUBT: Colour = (96, 48, 160)
_STROKES = {"ß": "ss", "µ": "u", "±": "+-"}  # what OpenCV's strokes lack
_FINE = 4  # binary digits below the pixel that OpenCV draws with


@dataclass(frozen=True, slots=True)
class Pen:
    """Draws on an H x W x 3 uint8 picture; widths and letters are in px times `scale`."""

    picture: np.ndarray
    scale: float = 1.0

    def line(self, points: list[Point], colour: Colour, width: float = 2.0) -> None:
        """An open line with a light rim."""
        import cv2

        places = np.round(np.array(points) * 2**_FINE).astype(np.int32)
        for shade, wide in ((LIGHT, width + 2.5), (colour, width)):
            thick = max(round(wide * self.scale), 1)
            cv2.polylines(self.picture, [places], False, shade, thick, cv2.LINE_AA, _FINE)

    def dashes(self, points: list[Point], colour: Colour, width: float = 2.0) -> None:
        """A broken line: what is not certain, or not printed, is never drawn whole."""
        path = np.array(points, dtype=float)
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
        step = 7.0 * self.scale
        for start in np.arange(0.0, along[-1], 2 * step):
            end = min(start + step, along[-1])
            places = [start, *along[(along > start) & (along < end)], end]
            dash = np.column_stack([np.interp(places, along, path[:, k]) for k in (0, 1)])
            self.line([(float(x), float(y)) for x, y in dash], colour, width)

    def plus(self, at: Point, half: float, colour: Colour = DARK) -> None:
        """An upright cross; half is the length of its arms in px."""
        x, y = at
        for ends in ([(x - half, y), (x + half, y)], [(x, y - half), (x, y + half)]):
            self.line(ends, colour, 1.0)

    def text_size(self, lines: list[str]) -> tuple[float, float]:
        """(width, height) px of a label."""
        import cv2

        wide = max(cv2.getTextSize(plain_text(t), _face(), self._height, 1)[0][0] for t in lines)
        return wide + 12.0 * self.scale, len(lines) * self._line + 8.0 * self.scale

    def label(self, box: Box, lines: list[str]) -> None:
        """Words on a dark ground."""
        import cv2

        corners = [(box.left, box.top), (box.left + box.width, box.top + box.height)]
        (x0, y0), (x1, y1) = [(round(x), round(y)) for x, y in corners]
        cv2.rectangle(self.picture, (x0, y0), (x1, y1), DARK, -1)
        self.words((box.left, box.top), lines)

    def words(self, at: Point, lines: list[str], colour: Colour = LIGHT) -> None:
        """Words without a ground; `at` is the top left corner of their label."""
        import cv2

        x, y = at
        thick = max(round(self.scale), 1)
        for k, text in enumerate(lines):
            place = round(x + 6 * self.scale), round(y + (k + 0.78) * self._line + 3 * self.scale)
            cv2.putText(
                self.picture, plain_text(text), place, _face(), self._height, colour, thick,
                cv2.LINE_AA,
            )  # fmt: skip

    def arrow(self, start: Point, end: Point, colour: Colour = LIGHT) -> None:
        """A thin arrow without a rim."""
        import cv2

        (x0, y0), (x1, y1) = [(round(x), round(y)) for x, y in (start, end)]
        thick = max(round(2 * self.scale), 1)
        cv2.arrowedLine(self.picture, (x0, y0), (x1, y1), colour, thick, cv2.LINE_AA, 0, 0.35)

    @property
    def _height(self) -> float:
        return 0.5 * self.scale

    @property
    def _line(self) -> float:
        return 19.0 * self.scale


def _face() -> int:
    import cv2

    return int(cv2.FONT_HERSHEY_SIMPLEX)


def plain_text(text: str) -> str:
    """The text in the letters OpenCV's strokes have; others lose their accents or become ?."""
    for letter, strokes in _STROKES.items():
        text = text.replace(letter, strokes)
    split = unicodedata.normalize("NFKD", text)
    bare = "".join(letter for letter in split if not unicodedata.combining(letter))
    return bare.encode("ascii", "replace").decode("ascii")
