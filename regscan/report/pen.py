"""Lines and words on a picture that show on any ink: dark strokes on a light rim."""

import unicodedata
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from regscan.report.labels import Box
from regscan.report.sights import Point

Colour = tuple[int, int, int]
DARK: Colour = (16, 24, 32)
LIGHT: Colour = (255, 255, 255)
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
        """A broken line: what is not certain is never drawn whole."""
        step = 7.0 * self.scale
        for (x0, y0), (x1, y1) in pairwise(points):
            count = max(int(np.hypot(x1 - x0, y1 - y0) / step), 1)
            for k in range(0, count, 2):
                a, b = k / count, min((k + 1) / count, 1.0)
                ends = [(x0 + s * (x1 - x0), y0 + s * (y1 - y0)) for s in (a, b)]
                self.line(ends, colour, width)

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
        for k, text in enumerate(lines):
            at = round(x0 + 6 * self.scale), round(y0 + (k + 0.78) * self._line + 3 * self.scale)
            thick = max(round(self.scale), 1)
            cv2.putText(
                self.picture, plain_text(text), at, _face(), self._height, LIGHT, thick, cv2.LINE_AA
            )

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
    split = unicodedata.normalize("NFKD", text.replace("ß", "ss").replace("µ", "u"))
    bare = "".join(letter for letter in split if not unicodedata.combining(letter))
    return bare.encode("ascii", "replace").decode("ascii")
