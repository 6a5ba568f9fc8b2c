"""How much more a centre wanders than white pixel noise alone would make it.

Residuals at a printed edge are not white: the edge is rough over some tens of
micrometres, and interpolation or compression ties neighbouring pixels together.
So the mark is cut into sectors, each longer than such ties, and the fit is
asked how far its centre would move if one sector were left out (the
delete-a-group jackknife). Under white noise the mean square of those moves is
known exactly; the ratio of what is seen to that is the factor on the variance.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class LeaveOut:
    """How all parts of a fit would move if one sector were left out.

    moves    J x P, one row a sector.
    without  J x P x P, inverse normal matrices with that sector left out.
    inverse  P x P, of the whole.
    """

    moves: np.ndarray
    without: np.ndarray
    inverse: np.ndarray

    @staticmethod
    def of(
        design: np.ndarray,
        weight: np.ndarray,
        residual: np.ndarray,
        sectors: Sequence[slice],
        normal: np.ndarray | None = None,
    ) -> "LeaveOut":
        """From a fit's parts (design N x P), weights and residuals (N).

        sectors   slices of the N places; what no slice holds is never left out.
        normal    normal matrix of the whole fit; by default that of these N places.
        """
        weighted = design * weight[:, None]
        normals = np.stack([weighted[s].T @ design[s] for s in sectors])
        pulls = np.stack([weighted[s].T @ residual[s] for s in sectors])
        whole = normals.sum(axis=0) if normal is None else normal
        whole = whole + 1e-9 * whole.diagonal().max() * np.eye(len(whole))
        without = np.linalg.inv(whole - normals)
        moves = -np.einsum("jab,jb->ja", without, pulls)
        return LeaveOut(moves, without, np.linalg.inv(whole))

    def spread_ratio(self, noise: float, columns: tuple[int, int]) -> float:
        """Variance of two parts over their white-noise variance; about 1 for white noise.

        noise     sd of one place of weight 1.
        columns   the two parts that shift the mark along rows and columns.
        """
        pick = np.ix_(columns, columns)
        inverse = self.inverse[pick]
        scale = np.linalg.inv(inverse)
        moves = self.moves[:, list(columns)]
        expected = self.without[:, columns][:, :, columns] - inverse
        seen = np.einsum("ja,ab,jb->", moves, scale, moves)
        white = noise**2 * np.einsum("ab,jab->", scale, expected)
        return float(seen / white) if white > 0.0 else 1.0
