"""Plates: where each ink lies on a page, as an outside renderer drew it.

Both renderers give every ink's plate finer than the camera sees it; the plates are put
together into the light a camera pixel collects. Light adds up over the pixel's area, so
each combination of inks counts with its own measured colour and its own share of the
pixel: no model of ink on ink is needed.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from PIL import Image

FINE = 16  # fine pixels along a camera pixel's side
PX_MM = 0.01  # 2540 dpi
FINE_DPI = 2540 * FINE

Inks = frozenset[str]


# How many bits are set, for every word of FINE bits.
_BITS = np.array([word.bit_count() for word in range(2**FINE)], np.uint16)


@dataclass(frozen=True)
class Plates:
    """One picture per ink of FINE H x W words: a word is a row of FINE fine pixels of one
    camera pixel, with a bit set where the ink prints."""

    planes: Mapping[str, np.ndarray]

    def cover(self, ink: str) -> np.ndarray:
        """H x W, share 0..1 of each camera pixel that the ink covers."""
        return _shares(self.planes[ink])

    def combinations(self) -> dict[Inks, np.ndarray]:
        """H x W share of each camera pixel per combination of inks that occurs."""
        shape = next(iter(self.planes.values())).shape
        found: dict[Inks, np.ndarray] = {frozenset(): np.full(shape, 2**FINE - 1, np.uint16)}
        for ink, plane in self.planes.items():
            split = {inks: where & ~plane for inks, where in found.items()}
            split |= {inks | {ink}: where & plane for inks, where in found.items()}
            found = {inks: where for inks, where in split.items() if where.any()}
        return {inks: _shares(where) for inks, where in found.items()}

    def light(self, colours: Mapping[Inks, np.ndarray]) -> np.ndarray:
        """H x W x 3 linear light 0..1; colours names every combination that occurs."""
        shares = self.combinations()
        return sum(share[..., None] * colours[inks] for inks, share in shares.items())


def _shares(plane: np.ndarray) -> np.ndarray:
    """H x W share of set bits from FINE H x W words."""
    counts = _BITS[plane].reshape(-1, FINE, plane.shape[1])
    return counts.sum(axis=1, dtype=np.uint16) / FINE**2


def words_of(picture: Image.Image, rows: int, cols: int) -> np.ndarray:
    """A plate drawn black on white, cut to rows x cols camera pixels, as words of bits."""
    bits = picture.convert("1").crop((0, 0, cols * FINE, rows * FINE)).tobytes()
    return ~np.frombuffer(bits, np.uint16).reshape(rows * FINE, cols)


def pixels_across(side_mm: float) -> int:
    """Camera pixels along a page's side."""
    return round(side_mm / PX_MM)


def pixel_of(down_mm: float, right_mm: float) -> tuple[float, float]:
    """(row, col) px of a page place; the centre of the top-left pixel is (0, 0)."""
    return down_mm / PX_MM - 0.5, right_mm / PX_MM - 0.5
