"""Sectors: a mark cut like a cake, to ask what its fit would say without one piece."""

import math

import numpy as np

_FEWEST, _MOST = 6, 24


def sector_of(rows: np.ndarray, cols: np.ndarray, wanted: float) -> np.ndarray:
    """In which of about so many sectors places lie, by their direction from the centre."""
    count = int(np.clip(wanted, _FEWEST, _MOST))
    turn = np.arctan2(rows, cols) / (2.0 * math.pi) + 0.5
    return np.minimum((turn * count).astype(int), count - 1)


def by_sector(places: np.ndarray, sector: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Some places sector by sector, J x L: one row for each, L the most that any has, shorter ones
    filled up with 0; and which are no filling, J x L float32: 1 there.

    places, sector   both N, in the order of the sectors.
    """
    counts = np.bincount(sector, minlength=1)
    told = np.arange(counts.max()) < counts[:, None]
    rows = np.zeros(told.shape, int)
    rows[told] = places
    return rows, told.astype(np.float32)
