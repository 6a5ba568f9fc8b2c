"""GridFit: what was fitted to the grids of all frames, and how far each node lies from it."""

from dataclasses import dataclass

import numpy as np

from regscan.camera.camera import Camera
from regscan.instrument.calibration import rms_length
from regscan.instrument.grid.model import Layout
from regscan.instrument.grid.seen import SeenGrid


@dataclass(frozen=True)
class GridFit:
    """What was found.

    vector, covariance   as laid out.
    nodes       per frame N x 2, numbered from the frame's middle along the web's axes.
    residuals   per frame N x 2 (row, col) px: seen less predicted, in the frame.
    used        per frame N bool: False for strays.
    """

    layout: Layout
    vector: np.ndarray
    covariance: np.ndarray
    grids: tuple[SeenGrid, ...]
    nodes: tuple[np.ndarray, ...]
    residuals: tuple[np.ndarray, ...]
    used: tuple[np.ndarray, ...]

    @property
    def rms_px(self) -> float:
        """Root of the mean squared length of the used residuals, as OpenCV counts it."""
        kept = [r[u] for r, u in zip(self.residuals, self.used, strict=True)]
        return rms_length(np.concatenate(kept))

    def camera(self, like: Camera) -> Camera:
        """The camera found, its words and tone as in `like`."""
        return self.layout.camera(self.vector, like)
