"""How much more a centre wanders than white pixel noise alone would make it.

Residuals at a printed edge are not white: the edge is rough over some tens of
micrometres, and interpolation or compression ties neighbouring pixels together.
So the mark is cut into sectors, each longer than such ties, and the fit is
asked how far its centre would move if one sector were left out (the
delete-a-group jackknife). Under white noise the mean square of those moves is
known exactly; the ratio of what is seen to that is the factor on the variance.
"""

from collections.abc import Sequence

import numpy as np


def spread_ratio(
    design: np.ndarray,
    weight: np.ndarray,
    residual: np.ndarray,
    noise: float,
    sectors: Sequence[slice],
) -> float:
    """Variance of the centre over its white-noise variance; about 1 for white noise.

    design     N x P parts of the model as fitted; columns 4 and 5 shift the mark.
    weight, residual   N.    noise   sd of one place of weight 1.
    sectors    slices of the N places, together all of them.
    """
    weighted = design * weight[:, None]
    normals = np.stack([weighted[s].T @ design[s] for s in sectors])
    pulls = np.stack([weighted[s].T @ residual[s] for s in sectors])
    whole = normals.sum(axis=0)
    ridge = 1e-9 * whole.diagonal().max() * np.eye(len(whole))
    inverse = np.linalg.inv(whole + ridge)
    without = np.linalg.inv(whole + ridge - normals)
    moves = -np.einsum("jab,jb->ja", without[:, 4:6], pulls)
    expected = without[:, 4:6, 4:6] - inverse[4:6, 4:6]
    scale = np.linalg.inv(inverse[4:6, 4:6])
    seen = np.einsum("ja,ab,jb->", moves, scale, moves)
    white = noise**2 * np.einsum("ab,jab->", scale, expected)
    return float(seen / white) if white > 0.0 else 1.0
