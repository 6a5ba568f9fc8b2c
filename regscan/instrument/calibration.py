"""Calibration: what a grid's frames said about a camera, and how far to trust it. Plain records."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from regscan.camera.camera import Camera
from regscan.instrument.plate import Plate

Role = Literal["fit", "check"]


@dataclass(frozen=True)
class FrameNodes:
    """One frame's nodes and how far they lie from where the calibrated camera puts them.

    nodes       N x 2, counted along the web's axes (circumferential, lateral).
    places      N x 2 (row, col) px as seen.    residuals   N x 2 px, seen less predicted.
    used        N bool: False for strays, which were left out.
    red, blue   N x 2 px off green as seen; red_left, blue_left what the lens leaves of it.
                None for mono frames; NaN where a channel does not show the node.
    """

    frame: str
    role: Role
    nodes: np.ndarray
    places: np.ndarray
    residuals: np.ndarray
    used: np.ndarray
    red: np.ndarray | None = None
    blue: np.ndarray | None = None
    red_left: np.ndarray | None = None
    blue_left: np.ndarray | None = None

    @property
    def rms_px(self) -> float:
        """Root mean square length of the used residuals."""
        return rms_length(self.residuals[self.used])

    def parted(self, shifts: np.ndarray | None) -> np.ndarray:
        """Those of N x 2 shifts that are known, of used nodes."""
        if shifts is None:
            return np.empty((0, 2))
        return shifts[self.used & np.isfinite(shifts).all(axis=1)]


@dataclass(frozen=True, slots=True)
class Proof:
    """What a frame that was not used in the fit says.

    rms_px           of its residuals, the grid laid on as well as a turn and a shift can.
    scale_ppm        (circumferential, lateral): how much too long the camera shows the grid.
    """

    frame: str
    rms_px: float
    scale_ppm: tuple[float, float]


@dataclass(frozen=True)
class Calibration:
    """The camera found, and the evidence.

    rms_px    root mean square length of the residuals of the fit.
    askew     True when the grid was held askew in some frames: sizes and rotation come from
              the first frame alone.
    notes     what was odd, in words.
    """

    camera: Camera
    plate: Plate
    frames: tuple[FrameNodes, ...]
    rms_px: float
    askew: bool
    proofs: tuple[Proof, ...]
    notes: tuple[str, ...]

    def of(self, role: Role) -> tuple[FrameNodes, ...]:
        """The frames of one role."""
        return tuple(frame for frame in self.frames if frame.role == role)


def rms_length(vectors: np.ndarray) -> float:
    """Root mean square length of N x 2 vectors; NaN for none."""
    return float(np.sqrt((vectors**2).sum(axis=1).mean())) if len(vectors) else float("nan")
