"""Lateral colour: how red and blue lie against green, fitted to the nodes of all frames."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regscan.camera.lens import LateralColour, Lens
from regscan.instrument.grid.seen import SeenGrid

_STRAYS = 5.0
_ROUNDS = 8
_FEWEST = 8


@dataclass(frozen=True)
class ColourFit:
    """One channel's shift.

    colour      what was found.
    residuals   per frame N x 2 px: seen less predicted; NaN where the channel shows no node.
    sd_px       doubt of the shift at the nodes, one sigma, mean over them.
    """

    colour: LateralColour
    residuals: tuple[np.ndarray, ...]
    sd_px: float


def fit_colour(
    lens: Lens, grids: Sequence[SeenGrid], places: Sequence[np.ndarray]
) -> ColourFit | None:
    """The shift of one channel; None when too few nodes show it.

    places   per frame N x 2 px of the grid's nodes in that channel.
    """
    design = np.concatenate([_design(lens, grid.places) for grid in grids])
    shifts = np.concatenate([p - grid.places for p, grid in zip(places, grids, strict=True)])
    seen = np.isfinite(shifts).all(axis=1)
    if seen.sum() < _FEWEST:
        return None
    # Interleaved as row, col, row, col ..., as the design has them.
    both = np.repeat(seen, 2)
    best = None
    for columns in ([0, 1, 2], [0, 1, 2, 3]):  # the cubic term only where it pays
        found = _robust(design[both][:, columns], shifts[seen].ravel())
        count, more = 2 * int(seen.sum()), len(columns) - (len(best.values) if best else 0)
        if best is None or count * np.log(best.cost / found.cost) > more * np.log(count):
            best = found
    assert best is not None
    values = np.zeros(4)
    values[: len(best.values)] = best.values
    off = shifts.ravel() - design @ values
    ends = np.cumsum([len(grid.places) for grid in grids])[:-1]
    return ColourFit(
        LateralColour(*(float(v) for v in values)),
        tuple(np.split(off.reshape(-1, 2), ends)),
        best.sd,
    )


@dataclass(frozen=True)
class _Found:
    values: np.ndarray
    cost: float
    sd: float


def _design(lens: Lens, places: np.ndarray) -> np.ndarray:
    """2N x 4: what each number of LateralColour adds to (row, col) of every place."""
    parts = [
        lens.colour_shift(colour, places[:, 0], places[:, 1])
        for colour in (
            LateralColour(1.0),
            LateralColour(0.0, 1.0),
            LateralColour(0.0, 0.0, 1.0),
            LateralColour(0.0, 0.0, 0.0, 1.0),
        )
    ]
    ones = np.ones(len(places))
    return np.stack(
        [np.stack([ones * row, ones * col], axis=1) for row, col in parts], axis=2
    ).reshape(-1, 4)


def _robust(design: np.ndarray, shifts: np.ndarray) -> _Found:
    """Least squares without strays."""
    weight = np.ones(len(shifts))
    for _ in range(_ROUNDS):
        values = np.linalg.lstsq(design * weight[:, None], shifts * weight, rcond=None)[0]
        off = np.abs(shifts - design @ values)
        spread = 1.4826 * float(np.median(off)) + 1e-9
        weight = (off < _STRAYS * spread).astype(float)
    kept = weight > 0.0
    freedom = max(int(kept.sum()) - design.shape[1], 1)
    variance = float((off[kept] ** 2).sum()) / freedom
    covariance = variance * np.linalg.inv(design[kept].T @ design[kept])
    field = np.einsum("na,ab,nb->n", design, covariance, design)
    cost = float(np.minimum(off**2, (_STRAYS * spread) ** 2).mean())
    return _Found(values, cost, float(np.sqrt(field.mean())))
