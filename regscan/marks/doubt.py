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

_COMMON = 0.75
_UNFELT = 1.5
_CHANCE = 0.2  # by which a ratio of white noise easily exceeds 1


@dataclass(frozen=True)
class LeaveOut:
    """How all parts of a fit would move if one sector were left out.

    moves     J x P, one row a sector.
    white     J x P x P, covariance of each move under white noise of unit size.
    inverse   P x P, inverse normal matrix of the whole.
    """

    moves: np.ndarray
    white: np.ndarray
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
        inverse = np.linalg.inv(whole)
        without = np.linalg.inv(whole - normals)
        moves = -np.einsum("jab,jb->ja", without, pulls)
        # Of white noise the covariance of a move is (N - Nj)^-1 - N^-1.
        return LeaveOut(moves, without - inverse, inverse)

    def spread_ratio(self, noise: float, columns: tuple[int, int]) -> float:
        """Variance of two parts over their white-noise variance; about 1 for white noise.

        noise     sd of one place of weight 1.
        columns   the two parts that shift the mark along rows and columns.
        """
        pick = np.ix_(columns, columns)
        scale = np.linalg.inv(self.inverse[pick])
        moves = self.moves[:, list(columns)]
        seen = np.einsum("ja,ab,jb->", moves, scale, moves)
        white = noise**2 * np.einsum("ab,jab->", scale, self.white[:, columns][:, :, columns])
        return float(seen / white) if white > 0.0 else 1.0


@dataclass(frozen=True, slots=True)
class Wander:
    """What is known of how far one mark's centre wanders, px.

    white        mean variance of its two axes from pixel noise alone.
    pull         (row, col), how far a smear may have pulled it, one sigma.
    ratio        what leaving sectors out says the variance is, over that; noisy.
    outline_px   length of its outline: rough edges average out along it.
    """

    white: float
    ratio: float
    outline_px: float
    pull: tuple[float, float] = (0.0, 0.0)

    @property
    def roughness(self) -> float:
        """Variance beyond white noise, times the outline: one number for all marks of a
        print, whatever their size and contrast, px^3."""
        return (self.ratio - 1.0) * self.white * self.outline_px


def felt_ratio(ratio: float) -> float:
    """A ratio with what leaving sectors out does not feel; 1 where it may be chance."""
    return 1.0 + _UNFELT * max(ratio - 1.0 - _CHANCE, 0.0)


def shared_ratios(wanders: Sequence[Wander]) -> list[float]:
    """Variance over white-noise variance of every mark of a frame, at least 1.

    One mark's own ratio rests on a dozen sectors and swings by a quarter. Marks of one
    frame are printed on one web in one moment, so most of what is known of one mark's
    edge comes from all of them. Sectors left out do not feel what is alike all along
    the outline, as rough edges are over some tens of micrometres: allowed for.
    """
    if not wanders:
        return []
    common = float(np.median([w.roughness for w in wanders]))
    weight = _COMMON if len(wanders) > 1 else 0.0
    rough = [weight * common + (1.0 - weight) * w.roughness for w in wanders]
    return [
        felt_ratio(1.0 + r / (w.white * w.outline_px)) for r, w in zip(rough, wanders, strict=True)
    ]
