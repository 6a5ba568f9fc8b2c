"""Tails: how ink beyond a mark's edge fades, by its length and one of a few ways.

A plate that bounced prints a second time, as strong as far as it reaches; slur thins out from
the edge on, evenly or fast. Of each way every length is tried; all are linear in the ink they
have at the edge, so one table of products of the pixels serves them all.
"""

from dataclasses import dataclass

import numpy as np

from regscan.marks.fitting.solve import ridged
from regscan.marks.shape.template import PARTS

_ENDS_PX = np.concatenate([np.arange(0.0, 8.0, 0.5), np.arange(8.0, 24.5)])
FAR_PX = (_ENDS_PX[1:] + _ENDS_PX[:-1]) / 2.0  # beyond the edge, where ink is looked for
_SECOND_PRINT, *_SLURS = (0, 1, 2)  # powers of 1 - far / length, the ink there
_LENGTHS_PX = np.geomspace(1.2, 22.0, 24)
_WEAKEST = 0.03  # of the mark's ink, at the edge
# A second print is the weaker one; one as strong as the first would only be a longer mark.
_STRONGEST = {_SECOND_PRINT: 0.75} | dict.fromkeys(_SLURS, 1.1)


@dataclass(frozen=True, slots=True)
class Tail:
    """Ink beyond an edge that explains the pixels best of all that fade one way.

    fades   whether it is slur, not a second print.
    parts   2 x N, the tail as strong as the mark, and its change per px of length.
    left    weighted squares it leaves.   gained   how much less than without it.
    shift   (row, col) px, where it puts the centre from where the template was laid.
    """

    fades: bool
    parts: np.ndarray
    left: float
    gained: float
    shift: tuple[float, float]


def tails_of(
    rows: np.ndarray, facing: np.ndarray, weight: np.ndarray, *, trailing: bool
) -> list[Tail]:
    """Tails of one mark, the best of each way to fade, best first; none where no ink is there.

    rows       (P+1) x N, as in Reading.   weight   N.
    facing     T x N, the edge moved by FAR_PX.
    trailing   whether it is the trailing edge: slur lies on that side only.
    """
    all_rows = np.concatenate([rows[:-1], facing, rows[-1:]])
    products = (all_rows * weight) @ all_rows.T
    own_left = _left_by_own(products)
    own, beyond = slice(PARTS), slice(PARTS, PARTS + len(facing))
    found = []
    for power in (_SECOND_PRINT, *_SLURS) if trailing else (_SECOND_PRINT,):
        profiles = _profiles(power, _LENGTHS_PX)
        normal = np.empty((len(profiles), PARTS + 1, PARTS + 1))
        normal[:, own, own] = products[own, own]
        normal[:, PARTS, own] = normal[:, own, PARTS] = profiles @ products[beyond, own]
        normal[:, PARTS, PARTS] = np.einsum(
            "kt,tu,ku->k", profiles, products[beyond, beyond], profiles
        )
        moment = np.empty((len(profiles), PARTS + 1, 1))
        moment[:, own, 0] = products[own, -1]
        moment[:, PARTS, 0] = profiles @ products[beyond, -1]
        theta = np.linalg.solve(ridged(normal), moment)[:, :, 0]
        ink = theta[:, PARTS] / theta[:, 3]
        left = products[-1, -1] - (theta * moment[:, :, 0]).sum(axis=1)
        left[(ink < _WEAKEST) | (ink > _STRONGEST[power])] = np.inf
        best = int(left.argmin())
        if np.isfinite(left[best]):
            row, col = (theta[best, 4:6] / theta[best, 3]).tolist()
            parts = _parts(power, float(_LENGTHS_PX[best])) @ facing
            fading = power != _SECOND_PRINT
            gained = own_left - float(left[best])
            found.append(Tail(fading, parts, float(left[best]), gained, (row, col)))
    return sorted(found, key=lambda tail: tail.left)


def unsure_of(tails: list[Tail], unit: float) -> tuple[float, float]:
    """(row, col) px, one sigma, by which places differ between ways to fade, each as likely as
    it explains the pixels.

    unit   squares that noise leaves of one place.
    """
    likely = _likely(tails, unit)
    off = np.array([tail.shift for tail in tails]) - tails[0].shift
    row, col = np.sqrt(likely @ off**2 / likely.sum()).tolist()
    return row, col


def fades(tails: list[Tail], unit: float) -> bool:
    """Whether the ink beyond an edge is rather slur than a second print; unit as above."""
    slur = np.array([tail.fades for tail in tails])
    likely = _likely(tails, unit)
    return bool(likely[slur].sum() > likely[~slur].sum())


def may_fade(tails: list[Tail], clear: float) -> bool:
    """Whether it may be slur; clear: squares by which a second print would have to explain more."""
    slurs = [tail.left for tail in tails if tail.fades]
    return bool(slurs) and min(slurs) < tails[0].left + clear


def _left_by_own(products: np.ndarray) -> float:
    """Weighted squares that the mark's own parts leave."""
    own = slice(PARTS)
    theta = np.linalg.solve(ridged(products[own, own]), products[own, -1])
    return float(products[-1, -1] - theta @ products[own, -1])


def _likely(tails: list[Tail], unit: float) -> np.ndarray:
    return np.exp([-0.5 * (tail.left - tails[0].left) / unit for tail in tails])


def _parts(power: int, length_px: float) -> np.ndarray:
    """2 x T, a tail's profile and its change per px of length."""
    step = 0.05 * length_px
    below, here, above = _profiles(power, length_px + np.array([-step, 0.0, step]))
    return np.stack([here, (above - below) / (2.0 * step)])


def _profiles(power: int, lengths_px: np.ndarray) -> np.ndarray:
    """K x T, ink of tails of such lengths between the steps about FAR_PX, each times its width."""
    lengths = lengths_px[:, None]
    beyond = np.maximum(1.0 - _ENDS_PX / lengths, 0.0) ** (power + 1) * lengths / (power + 1)
    return -np.diff(beyond, axis=1)
