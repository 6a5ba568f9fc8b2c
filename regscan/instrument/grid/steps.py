"""Steps: between the straight picture and the frame, at many places at once."""

from dataclasses import dataclass

import numpy as np

from regscan.camera.lens import Lens


@dataclass(frozen=True)
class SmallSteps:
    """What small steps in the straight picture are in the frame, at N places.

    down, right   N x 2 straight px per px down and right in the frame.
    """

    down: np.ndarray
    right: np.ndarray

    @classmethod
    def through(cls, lens: Lens, places: np.ndarray) -> "SmallSteps":
        """At places of the frame, N x 2 px."""
        row, col = places.T
        at = np.stack(lens.straight(row, col), axis=1)
        down = np.stack(lens.straight(row + 1.0, col), axis=1) - at
        return cls(down, np.stack(lens.straight(row, col + 1.0), axis=1) - at)

    def steps(self, straight: np.ndarray) -> np.ndarray:
        """N x 2 px in the frame of N x 2 straight px."""
        down, right = self.down, self.right
        area = down[:, 0] * right[:, 1] - down[:, 1] * right[:, 0]
        rows = (straight[:, 0] * right[:, 1] - straight[:, 1] * right[:, 0]) / area
        cols = (down[:, 0] * straight[:, 1] - down[:, 1] * straight[:, 0]) / area
        return np.stack([rows, cols], axis=1)


def seen_residuals(lens: Lens, places: np.ndarray, straight: np.ndarray) -> np.ndarray:
    """N x 2 px: how far places lie in the frame from where straight places would be seen."""
    row, col = places.T
    off = np.stack(lens.straight(row, col), axis=1) - straight
    return SmallSteps.through(lens, places).steps(off)
