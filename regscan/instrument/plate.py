"""Plate: what somebody says of the grid that a camera is calibrated on."""

from dataclasses import dataclass
from typing import Literal

GridKind = Literal["dots", "chessboard"]


@dataclass(frozen=True, slots=True)
class Plate:
    """The grid as it was made and laid.

    dot_mm          diameter of its dots; None where nobody said.
    length_sd_ppm   how well its lengths are known, one sd (1 um in 10 mm is 100).
    turn_sd_deg     how well its lines lie along the web's travel in the first frame, one sd.
    squared         False when they do not: the rotation of the given camera is kept.
    """

    pitch_mm: float
    kind: GridKind = "dots"
    dot_mm: float | None = None
    length_sd_ppm: float = 0.0
    turn_sd_deg: float = 0.0
    squared: bool = True
