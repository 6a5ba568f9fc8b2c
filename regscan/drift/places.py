"""At which places round the repeat frames were taken, and how a colour differs among them."""

from dataclasses import dataclass

import numpy as np

APART = 0.04
"""Places are told apart where this share of the repeat between them holds no frame."""
WIDE = 0.02
"""Frames of one place lie within this share of the repeat."""
STRAY = 0.05
"""So many frames may lie elsewhere; with more of them there are no clear places."""
FEWEST = 5
"""Frames that make a place."""
TREND_KNOTS = 40
OUTLYING = 4.0
SINGULAR = 1e-9
LEAST_FREEDOM = 3
ROUNDS = 2
RESOLUTION_MM = 1e-5
"""Offsets that agree better than this were rounded, and are not known better."""


@dataclass(frozen=True, slots=True)
class Places:
    """Clear places round the repeat, in the order of the web.

    at_mm   web position modulo the repeat.
    of      for each frame the place it shows, -1 for none.
    """

    at_mm: np.ndarray
    of: np.ndarray


def find_places(web_m: np.ndarray, repeat_mm: float) -> Places | None:
    """The places at which frames gather; None where they do not, or positions are not known."""
    if len(web_m) < FEWEST or not np.isfinite(web_m).all():
        return None
    phase = np.mod(web_m * 1000.0 / repeat_mm, 1.0)
    order = np.argsort(phase, kind="stable")
    ranked = phase[order]
    # The gap before each frame, the first one's reaching round the repeat.
    gaps = np.diff(ranked, prepend=ranked[-1] - 1.0)
    if not (gaps > APART).any():
        return None
    turn = int(np.argmax(gaps > APART))
    order, gaps = np.roll(order, -turn), np.roll(gaps, -turn)
    group = np.empty(len(order), dtype=int)
    group[order] = np.cumsum(gaps > APART) - 1
    return _clear(phase, group, repeat_mm)


def _clear(phase: np.ndarray, group: np.ndarray, repeat_mm: float) -> Places | None:
    counts = np.bincount(group)
    kept = np.flatnonzero(counts >= FEWEST)
    if not len(kept) or counts[kept].sum() < (1.0 - STRAY) * len(phase):
        return None
    middles = []
    for number in kept:
        mine = phase[group == number]
        away = np.mod(mine - mine[0] + 0.5, 1.0) - 0.5
        if np.ptp(away) > WIDE:
            return None
        # A place just before the web's zero is one at the zero: encoders round.
        middles.append(np.mod(mine[0] + away.mean() + WIDE / 2.0, 1.0) - WIDE / 2.0)
    order = np.argsort(middles)
    of = np.full(len(phase), -1)
    for place, number in enumerate(kept[order]):
        of[group == number] = place
    return Places(np.array(middles)[order] * repeat_mm + 0.0, of)


@dataclass(frozen=True, slots=True)
class Unlike:
    """How a colour lies at each of P places, against their mean.

    effect_mm    length P, adds up to zero.
    basis        P x (P-1), orthonormal, of all that adds up to zero.
    covariance   (P-1) x (P-1), of basis.T @ effect_mm.
    frames       length P.
    """

    effect_mm: np.ndarray
    basis: np.ndarray
    covariance: np.ndarray
    frames: np.ndarray

    @property
    def sd_mm(self) -> np.ndarray:
        """One standard deviation of each effect."""
        return np.sqrt(np.diag(self.basis @ self.covariance @ self.basis.T))


def unlike(values_mm: np.ndarray, of: np.ndarray, places: int) -> Unlike | None:
    """What is different at each place, once all that changes along the run is taken off.

    values_mm, of   offsets in the order of the web, and the place of each (0 .. places - 1).

    Places and a trend of straight pieces are fitted together, at least four frames of each
    place to a piece, so that neither speed nor time is taken for a place. None with too few
    frames, or where the run shows the places one after the other and the trend takes all.
    """
    frames = np.bincount(of, minlength=places)
    if places < 2 or frames.min() < FEWEST:
        return None
    basis = np.linalg.svd(np.ones((1, places)))[2][1:].T
    design = np.hstack([basis[of], _trend(len(of), len(of) // (4 * places))])
    kept = np.ones(len(of), dtype=bool)
    for _ in range(ROUNDS):
        fit = _least_squares(design[kept], values_mm[kept])
        if fit is None:
            return None
        left = values_mm - design @ fit.sizes
        spread = 1.4826 * float(np.median(np.abs(left[kept])))
        kept = np.abs(left) <= max(OUTLYING * spread, RESOLUTION_MM)
    last = _least_squares(design[kept], values_mm[kept])
    if last is None:
        return None
    own = slice(places - 1)
    return Unlike(basis @ last.sizes[own], basis, last.covariance[own, own], frames)


@dataclass(frozen=True, slots=True)
class _Fit:
    sizes: np.ndarray
    covariance: np.ndarray


def _least_squares(design: np.ndarray, values: np.ndarray) -> _Fit | None:
    """None where the design leaves something open, or nothing to tell the noise by."""
    freedom = len(values) - design.shape[1]
    gram = design.T @ design
    ranks = np.linalg.eigvalsh(gram)
    if freedom < LEAST_FREEDOM or ranks[0] <= SINGULAR * ranks[-1]:
        return None
    inverse = np.linalg.inv(gram)
    sizes = inverse @ (design.T @ values)
    square = float(((values - design @ sizes) ** 2).sum()) / freedom
    return _Fit(sizes, max(square, RESOLUTION_MM**2) * inverse)


def _trend(count: int, pieces: int) -> np.ndarray:
    """Hat functions over the run, count x knots: together any line of that many pieces."""
    knots = int(np.clip(pieces, 1, TREND_KNOTS)) + 1
    at = np.linspace(0.0, knots - 1.0, count)[:, None]
    return np.maximum(1.0 - np.abs(at - np.arange(knots)), 0.0)


@dataclass(frozen=True, slots=True)
class Shape:
    """A shape fitted to what places differ by: its sizes, their covariance, what is left."""

    sizes: np.ndarray
    covariance: np.ndarray
    misfit: float
    freedom: int


def fit_shape(seen: Unlike, shape: np.ndarray) -> Shape:
    """Generalised least squares of P x K shapes; doubt grows with the misfit (Birge ratio)."""
    design = seen.basis.T @ shape
    weight = np.linalg.inv(seen.covariance)
    inverse = np.linalg.inv(design.T @ weight @ design)
    value = seen.basis.T @ seen.effect_mm
    sizes = inverse @ (design.T @ weight @ value)
    left = value - design @ sizes
    misfit, freedom = float(left @ weight @ left), len(value) - design.shape[1]
    growth = max(misfit / freedom, 1.0) if freedom else 1.0
    return Shape(sizes, inverse * growth, misfit, freedom)
