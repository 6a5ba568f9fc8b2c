"""Generalised least squares of one channel: every station has its level, movements are shared.

What is left is correlated along the run (see noise) and between stations, since every offset
holds the noise of the reference mark too: covariance D + c 11' with D diagonal.
"""

from dataclasses import dataclass

import numpy as np

from regscan.drift.model.field import Field
from regscan.drift.model.noise import Noise, Whitener, noise_of_residuals, seen_of

TWINS = 1e-10


@dataclass(frozen=True)
class Scale:
    """Noise of the stations: `noise` along the run, and the inverse covariance between them."""

    noise: Noise
    whiten: Whitener
    precision: np.ndarray
    sd_mm: np.ndarray
    shared_sd_mm: float


@dataclass(frozen=True)
class Fit:
    """Levels and sizes of movements with their covariance.

    size, covariance   of the movements only, in their own units.
    left               whitened residuals, moments x stations.
    residual_mm        plain residuals.
    misfit             squared misfit in units of the noise.
    """

    level_mm: np.ndarray
    level_sd_mm: np.ndarray
    size: np.ndarray
    covariance: np.ndarray
    left: np.ndarray
    residual_mm: np.ndarray
    misfit: float

    def gain(self, part: slice) -> float:
        """Squared misfit that some sizes take away beside all others."""
        size = self.size[part]
        return float(size @ np.linalg.solve(self.covariance[part, part], size))


def fit(field: Field, scale: Scale, moves: np.ndarray) -> Fit:
    """The best sizes of movements (moments x stations x movements, against the reference)."""
    white_y = scale.whiten(field.value_mm[:, :, None])[:, :, 0]
    white_moves = scale.whiten(moves)
    model = Model(scale, white_moves)
    answer = model.solve(white_y)
    stations = field.value_mm.shape[1]
    level, size = answer[:stations], answer[stations:]
    left = white_y - model.levels * level[None, :] - white_moves @ size
    return Fit(
        level_mm=level,
        level_sd_mm=np.sqrt(np.maximum(np.diag(model.covariance)[:stations], 0.0)),
        size=size,
        covariance=model.covariance[stations:, stations:],
        left=left,
        residual_mm=field.value_mm - level[None, :] - moves @ size,
        misfit=float(np.einsum("nj,jk,nk->", left, scale.precision, left, optimize=True)),
    )


class Model:
    """Levels of all stations and some movements, whitened, with the products a scan needs."""

    def __init__(self, scale: Scale, white_moves: np.ndarray) -> None:
        ones = np.ones((*white_moves.shape[:2], 1))
        self.levels = scale.whiten(ones)[:, :, 0]
        self.precision = scale.precision
        self.moves = white_moves
        self.weighed = np.einsum("njm,jk->nkm", white_moves, self.precision, optimize=True)
        gram = self._gram()
        size = np.sqrt(np.maximum(np.diag(gram), 1e-12))
        # On a scale where every column has size one, so that twins leave it invertible.
        alike = gram / size[:, None] / size[None, :] + TWINS * np.eye(self._size())
        self.covariance = np.linalg.inv(alike) / size[:, None] / size[None, :]

    def _size(self) -> int:
        return self.levels.shape[1] + self.moves.shape[2]

    def _gram(self) -> np.ndarray:
        stations = self.levels.shape[1]
        gram = np.empty((self._size(), self._size()))
        gram[:stations, :stations] = (self.levels.T @ self.levels) * self.precision
        cross = np.einsum("nj,njm->jm", self.levels, self.weighed, optimize=True)
        gram[:stations, stations:] = cross
        gram[stations:, :stations] = cross.T
        gram[stations:, stations:] = np.einsum(
            "njm,njk->mk", self.moves, self.weighed, optimize=True
        )
        return gram

    def onto(self, white: np.ndarray) -> np.ndarray:
        """Products of something (moments x stations) with all columns."""
        weighed = white @ self.precision
        return np.concatenate(
            [
                (self.levels * weighed).sum(axis=0),
                np.einsum("nj,njm->m", weighed, self.moves, optimize=True),
            ]
        )

    def solve(self, white: np.ndarray) -> np.ndarray:
        """The best levels and sizes."""
        return self.covariance @ self.onto(white)


def scale_of(field: Field, residual_mm: np.ndarray, terms: np.ndarray) -> Scale:
    """Noise of residuals about a model.

    terms   moments x terms that were fitted to each station (a constant among them).
    """
    noise = noise_of_residuals(residual_mm, terms, field.gap, field.weight, field.shelf)
    whiten = Whitener(seen_of(field.gap, field.weight), noise)
    white = whiten(residual_mm[:, :, None])[:, :, 0]
    return scaled(white, whiten, terms.shape[1])


def scaled(white: np.ndarray, whiten: Whitener, terms: int) -> Scale:
    """The spreads of whitened residuals, and what all stations share."""
    seen = whiten.scale > 0.0
    both = seen.T.astype(float) @ seen
    cov = (white.T @ white) / np.maximum(both - terms, 1.0)
    spread = np.maximum(np.diag(cov), 1e-10)
    stations = len(spread)
    shared = 0.0
    if stations > 1:
        off = cov[~np.eye(stations, dtype=bool)]
        shared = float(np.clip(np.median(off), 0.0, 0.95 * spread.min()))
    own = spread - shared
    inverse = np.diag(1.0 / own)
    if shared > 0.0:
        u = 1.0 / own
        inverse -= np.outer(u, u) * (shared / (1.0 + shared * u.sum()))
    return Scale(whiten.noise, whiten, inverse, np.sqrt(spread), float(np.sqrt(shared)))
