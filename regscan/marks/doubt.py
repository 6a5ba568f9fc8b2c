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

from regscan.marks.median import median

_COMMON = 0.75
_UNFELT = 1.5
_MUCH_LOST = 0.2  # of an outline: what is left tells of damage, not of how rough edges are
_UPPER, _UPPER_SIGMAS = 0.9, 1.645  # so many of a Gaussian's sizes lie within so many sigmas
_MIDDLE_SIGMAS = 0.6745  # and half of them
_CHANCE = 0.2  # by which a ratio of white noise easily exceeds 1


@dataclass(frozen=True)
class LeaveOut:
    """Fits of F parts by sectors, M side by side: how their parts would move if one sector
    were left out. A fit with fewer than J sectors has empty ones: zeros.

    normals   M x J x F x F, each sector's normal matrix.
    pulls     M x J x F, each sector's weighted residuals along the parts.
    whole     M x F x F, normal matrix of the whole.
    """

    normals: np.ndarray
    pulls: np.ndarray
    whole: np.ndarray

    @staticmethod
    def of(sums: np.ndarray) -> "LeaveOut":
        """From sums over sectors (M x J x F x (F+1): normal matrices of a few of a fit's parts, and
        the weighted residuals along them as the last column), all its other parts taken as known.

        White noise in a sector moves a centre also by way of every other part that the sector
        tells of; a rough edge does so by way of shift and growth alone.
        """
        normals, pulls = sums[..., :-1], sums[..., -1]
        whole = normals.sum(axis=1)
        ridge = 1e-9 * whole.diagonal(axis1=1, axis2=2).max(axis=1)
        return LeaveOut(normals, pulls, whole + ridge[:, None, None] * np.eye(whole.shape[-1]))

    def spread_ratio(self, noise: np.ndarray) -> np.ndarray:
        """Variance of the first two parts, the mark's shifts along rows and columns, over their
        white-noise variance, M; about 1 for white noise.

        noise   M, sd of one place of weight 1.
        """
        two = np.eye(self.whole.shape[-1])[:, :2]
        # The whole fit goes along as one that leaves nothing out.
        whole = self.whole[:, None]
        each = np.concatenate([whole, whole - self.normals], axis=1)
        inverses = np.linalg.solve(each, two[None, None])
        inverse, without = inverses[:, 0], inverses[:, 1:]
        moves = (self.pulls[:, :, None] @ without)[:, :, 0]
        scale = np.linalg.inv(inverse[:, :2])
        seen = ((moves @ scale) * moves).sum(axis=(1, 2))
        # Of white noise the covariance of a move is (N - Nj)^-1 - N^-1.
        spread = (without - inverse[:, None])[:, :, :2].sum(axis=1)
        white = noise**2 * (scale * spread).sum(axis=(1, 2))
        return np.divide(seen, white, out=np.ones_like(seen), where=white > 0.0)


@dataclass(frozen=True, slots=True)
class Growth:
    """How far the edges of one mark lie outside the design's, px, and its white-noise
    covariance with the centre, px^2.

    lost   share of the outline that was left out as damaged; 0 for a sound mark.
    told   False where px was taken for known: the covariances over var then say how the place
           would follow another growth.
    leans  True for a smeared mark, of which one edge is not known: others tell its growth too.
    """

    px: float
    var: float
    row_covar: float
    col_covar: float
    lost: float = 0.0
    told: bool = True
    leans: bool = False


@dataclass(frozen=True, slots=True)
class Slurring:
    """A slur that was taken out of a fit.

    along   which way, a step of 1 px (rows, cols).
    moved   (row, col) px, how far taking it out moved the centre.
    gain    how much better that explains the pixels, in units of what noise leaves of one place.
    """

    along: tuple[float, float]
    moved: tuple[float, float]
    gain: float


@dataclass(frozen=True, slots=True)
class Wander:
    """What is known of how far one mark's centre wanders, px.

    white        mean variance of its two axes from pixel noise alone.
    model        how far the model itself may be off, any way, one sigma.
    pull         (row, col), how far a smear may have pulled it, one sigma.
    ratio        what leaving sectors out says the variance is, over that; noisy.
    unit         what white noise makes of a straight edge, px^3: the variance of its place
                 times its length. Rough edges are to be held against this.
    growth       how far the print has grown, which may look like a shift.
    slur         what was taken out of it, if that may be slur.
    unfelt       what leaving sectors out does not feel, of what it does (see felt_ratio).
    """

    white: float
    ratio: float
    unit: float
    growth: Growth
    model: float = 0.0
    pull: tuple[float, float] = (0.0, 0.0)
    slur: Slurring | None = None
    unfelt: float = _UNFELT

    @property
    def roughness(self) -> float:
        """Variance beyond white noise of a straight edge, times its length: one number for
        all marks of a print, whatever their size, contrast and what is left of them, px^3."""
        return (self.ratio - 1.0) * self.unit


def upper_spread(sizes: np.ndarray) -> float:
    """The sd that nine of ten sizes (of either sign) tell, if they are a Gaussian's; 0 of none."""
    if not sizes.size:
        return 0.0
    upper = int(_UPPER * (sizes.size - 1))
    return float(np.partition(sizes, upper)[upper]) / _UPPER_SIGMAS


def middle_spread(sizes: np.ndarray) -> float:
    """The same of half of the sizes, which the larger ones say nothing of."""
    if not sizes.size:
        return 0.0
    middle = sizes.size // 2
    return float(np.partition(sizes, middle)[middle]) / _MIDDLE_SIGMAS


def spread_reaches(sizes: np.ndarray, count: int, spread: float) -> bool:
    """Whether the upper spread of so many sizes is at least that, told without sorting them.

    sizes   may hold zeros besides; of fewer than count the answer may be no where it is yes.
    """
    upper = int(_UPPER * (count - 1))
    return int(np.count_nonzero(sizes >= _UPPER_SIGMAS * spread)) >= count - upper


def felt_ratio(ratio: float, unfelt: float = _UNFELT) -> float:
    """A ratio with what leaving sectors out does not feel; 1 where it may be chance."""
    return 1.0 + unfelt * max(ratio - 1.0 - _CHANCE, 0.0)


def shared_ratios(wanders: Sequence[Wander]) -> list[float]:
    """Variance over white-noise variance of every mark of a frame, at least 1.

    One mark's own ratio rests on a dozen sectors and swings by a quarter. Marks of one
    frame are printed on one web in one moment, so most of what is known of one mark's
    edge comes from all of them. Sectors left out do not feel what is alike all along
    the outline, as rough edges are over some tens of micrometres: allowed for.
    """
    if not wanders:
        return []
    sound = [w for w in wanders if w.growth.lost < _MUCH_LOST] or wanders
    common = median([w.roughness for w in sound])
    weight = _COMMON if len(wanders) > 1 else 0.0
    rough = [weight * common + (1.0 - weight) * w.roughness for w in wanders]
    return [felt_ratio(1.0 + r / w.unit, w.unfelt) for r, w in zip(rough, wanders, strict=True)]
