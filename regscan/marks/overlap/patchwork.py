"""How much more the centres of a joint fit wander than white pixel noise would make them.

As in `doubt`, the fit is asked how far each centre would move if a patch of the
picture were left out; patches are squares, since marks share them. There are
many, each with little say, so a move is taken to first order in it: that needs
no fit of its own.
"""

import numpy as np

from regscan.marks.overlap.mixture import Solution

_PATCH_PX = 7  # longer than what ties the errors of neighbouring pixels


def spread_ratios(solution: Solution) -> list[float]:
    """Per mark, the variance of its centre over what white noise would give; about 1 for
    white noise."""
    coloured, count = solution.coloured, solution.coloured.scene.count
    patch = _patches(coloured.pixels, coloured.scene.window.cols)
    inverse = solution.inverse
    centres = inverse[: 2 * count]
    # What each value moves the centres by, directly and through the colours: C x 2M x N.
    says = np.stack(
        [
            np.hstack([centres, -centres @ follow.T]).astype(np.float32) @ parts[:-1]
            for follow, parts in zip(solution.follow, solution.mixture.parts, strict=True)
        ]
    )
    pulls = np.einsum("cmn,cn->mn", says, solution.left)
    ratios = []
    for k in range(count):
        pick = slice(2 * k, 2 * k + 2)
        moves = np.stack([np.bincount(patch, pull) for pull in pulls[pick]])
        row, col = says[:, 2 * k], says[:, 2 * k + 1]
        sums = [
            np.bincount(patch, np.einsum("cn,cn->n", one, other))
            for one, other in ((row, row), (row, col), (col, col))
        ]
        spread = np.array([[sums[0], sums[1]], [sums[1], sums[2]]])
        scale = np.linalg.inv(inverse[pick, pick])
        seen = float(np.einsum("aj,ab,bj->", moves, scale, moves))
        # Each patch's share in the centre; residuals are smaller where it is large.
        share = np.einsum("ab,bcj->acj", scale, spread)
        white = float(np.einsum("aaj->", share) - np.einsum("abj,baj->", share, share))
        ratios.append(seen / (solution.noise**2 * white) if white > 0.0 else 1.0)
    return ratios


def _patches(pixels: np.ndarray, cols: int) -> np.ndarray:
    """Which patch each pixel (its place in the window) belongs to, counted from 0."""
    row, col = np.divmod(pixels, cols)
    return np.asarray(row // _PATCH_PX * (cols // _PATCH_PX + 1) + col // _PATCH_PX)
