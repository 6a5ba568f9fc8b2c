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
    columns: tuple[int, int] = (4, 5),
    normal: np.ndarray | None = None,
) -> float:
    """Variance of the centre over its white-noise variance; about 1 for white noise.

    design     N x P parts of the model as fitted.
    weight, residual   N.    noise   sd of one place of weight 1.
    sectors    slices of the N places; what no slice holds is never left out.
    columns    the two parts that shift the mark along rows and columns.
    normal     P x P normal matrix of the whole fit; by default that of these N places.
    """
    weighted = design * weight[:, None]
    normals = np.stack([weighted[s].T @ design[s] for s in sectors])
    pulls = np.stack([weighted[s].T @ residual[s] for s in sectors])
    whole = normals.sum(axis=0) if normal is None else normal
    whole = whole + 1e-9 * whole.diagonal().max() * np.eye(len(whole))
    pick = np.ix_(columns, columns)
    inverse = np.linalg.inv(whole)[pick]
    without = np.linalg.inv(whole - normals)
    moves = -np.einsum("jab,jb->ja", without[:, list(columns)], pulls)
    expected = without[:, columns[0] : columns[1] + 1, columns[0] : columns[1] + 1] - inverse
    scale = np.linalg.inv(inverse)
    seen = np.einsum("ja,ab,jb->", moves, scale, moves)
    white = noise**2 * np.einsum("ab,jab->", scale, expected)
    return float(seen / white) if white > 0.0 else 1.0
