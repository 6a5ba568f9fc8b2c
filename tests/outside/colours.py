"""Published colours of solids and overprints as light a camera would see.

Lab to XYZ is scikit-image's; the step from the D50 of the data to the D65 of sRGB is the
Bradford matrix as Bruce Lindbloom publishes it (brucelindbloom.com, "Chromatic Adaptation");
XYZ to linear sRGB is the matrix of IEC 61966-2-1. None of it is regscan's own code.
"""

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product
from pathlib import Path

import numpy as np
from skimage.color import lab2xyz

FOGRA39 = Path(__file__).parent / "data" / "fogra39_solids.csv"
PROCESS = ("cyan", "magenta", "yellow", "black")
Inks = frozenset[str]

BRADFORD_D50_TO_D65 = np.array(
    [
        [0.9555766, -0.0230393, 0.0631636],
        [-0.0282895, 1.0099416, 0.0210077],
        [0.0122982, -0.0204830, 1.3299098],
    ]
)
XYZ_TO_LINEAR_SRGB = np.array(
    [
        [3.2404542, -1.5371385, -0.4985314],
        [-0.9692660, 1.8760108, 0.0415560],
        [0.0556434, -0.2040259, 1.0572252],
    ]
)


@dataclass(frozen=True)
class Solid:
    """A solid, an overprint, or paper (no inks): both printings of one measurement."""

    inks: Inks
    lab: tuple[float, float, float]
    xyz: tuple[float, float, float]

    @property
    def light(self) -> np.ndarray:
        """Linear sRGB 0..1; a colour outside sRGB is clipped, as a camera clips."""
        return linear_srgb(self.lab)


def read_solids(path: Path = FOGRA39) -> Mapping[Inks, Solid]:
    """The sixteen rows by their inks."""
    with path.open(newline="") as file:
        rows = list(csv.DictReader(file))
    solids = {}
    for row in rows:
        inks = frozenset(ink for ink in PROCESS if row[f"{ink}_pct"] == "100")
        lab = tuple(float(row[f"lab_{k}"]) for k in "lab")
        xyz = tuple(float(row[f"xyz_{k}"]) for k in "xyz")
        solids[inks] = Solid(inks, lab, xyz)
    return solids


def xyz_d50(lab: tuple[float, float, float]) -> np.ndarray:
    """XYZ relative to Y = 1 of the D50 white, 2 degree observer."""
    return lab2xyz(np.array(lab).reshape(1, 1, 3), illuminant="D50", observer="2").ravel()


def linear_srgb(lab: tuple[float, float, float]) -> np.ndarray:
    """Linear sRGB 0..1 of a Lab (D50) colour."""
    return np.clip(XYZ_TO_LINEAR_SRGB @ BRADFORD_D50_TO_D65 @ xyz_d50(lab), 0.0, 1.0)


def all_combinations(inks: tuple[str, ...]) -> list[Inks]:
    """Every set of inks that can lie on one spot."""
    chosen = product((False, True), repeat=len(inks))
    return [frozenset(i for i, on in zip(inks, c, strict=True) if on) for c in chosen]
