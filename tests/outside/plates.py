"""Plates: where each ink lies on a page, as an outside renderer drew it.

Both renderers give every ink's plate finer than the camera sees it; the plates are put
together into the light a camera pixel collects. Light adds up over the pixel's area, so
each combination of inks counts with its own measured colour and its own share of the
pixel: no model of ink on ink is needed.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

FINE = 16  # fine pixels along a camera pixel's side
PX_MM = 0.01  # 2540 dpi
FINE_DPI = 2540 * FINE

Inks = frozenset[str]


@dataclass(frozen=True)
class Plates:
    """One boolean picture per ink, FINE H x FINE W pixels, True where it prints."""

    planes: Mapping[str, np.ndarray]

    @property
    def shape(self) -> tuple[int, int]:
        """Camera pixels (rows, columns)."""
        fine = next(iter(self.planes.values())).shape
        return fine[0] // FINE, fine[1] // FINE

    def cover(self, ink: str) -> np.ndarray:
        """H x W, share 0..1 of each camera pixel that the ink covers."""
        return _shares(self.planes[ink])

    def combinations(self) -> dict[Inks, np.ndarray]:
        """H x W share of each camera pixel per combination of inks that occurs."""
        code = np.zeros(next(iter(self.planes.values())).shape, np.uint8)
        for bit, plane in enumerate(self.planes.values()):
            code |= plane.view(np.uint8) << np.uint8(bit)  # room for eight inks
        inks = tuple(self.planes)
        return {
            frozenset(ink for bit, ink in enumerate(inks) if value >> bit & 1): _shares(
                code == value
            )
            for value in np.flatnonzero(np.bincount(code.ravel())).tolist()
        }

    def light(self, colours: Mapping[Inks, np.ndarray]) -> np.ndarray:
        """H x W x 3 linear light 0..1; colours names every combination that occurs."""
        total = np.zeros((*self.shape, 3))
        for inks, share in self.combinations().items():
            total += share[..., None] * colours[inks]
        return total


def _shares(plane: np.ndarray) -> np.ndarray:
    rows, cols = plane.shape[0] // FINE, plane.shape[1] // FINE
    columns = plane.view(np.uint8).reshape(rows, FINE, -1).sum(axis=1, dtype=np.uint8)
    return columns.reshape(rows, cols, FINE).sum(axis=2, dtype=np.uint16) / FINE**2


def pixel_of(down_mm: float, right_mm: float) -> tuple[float, float]:
    """(row, col) px of a page place; the centre of the top-left pixel is (0, 0)."""
    return down_mm / PX_MM - 0.5, right_mm / PX_MM - 0.5
