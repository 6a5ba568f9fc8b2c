"""The colour that marks show beside the paper around them."""

import math
from collections.abc import Sequence
from functools import reduce

import numpy as np

from regscan.marks.fitting.colourway import Piece
from regscan.marks.fitting.inked import Inked
from regscan.marks.fitting.reading import INSIDE
from regscan.marks.seeing.light import to_light
from regscan.marks.seeing.view import View

_WELL_INSIDE = 0.9  # the fitted picture's ink share of pixels that show the ink's colour
_ENOUGH = 30  # flats that show a colour as well as all pixels do
_PLENTY = 200  # more of them need not be looked at


def colours_shown(
    view: View, inked: Inked, pieces: Sequence[Piece]
) -> tuple[np.ndarray, list[float]]:
    """Every mark's colour, and the share of its pixels, or of the paper's beside it if that is
    more, that stand at either end of the scale in every channel.

    inked   of M marks side by side;   pieces   of the frame that they were read from.

    A colour is the ink's light over that of the paper beside it, times the substrate's
    colour: M x C. NaN where either shows nowhere.
    """
    solid = inked.model > _WELL_INSIDE * inked.model.max(axis=1, keepdims=True)
    bare = inked.model < 1.0 - _WELL_INSIDE
    codes, model, shares = _picked(inked, pieces, (solid, bare))
    counts = np.maximum(np.count_nonzero(shares, axis=2)[..., None], 1)
    full_scale = np.iinfo(codes.dtype).max
    at_full = ((_at_an_end(codes, full_scale) * shares).sum(axis=2) / counts[..., 0]).max(axis=0)
    light = to_light(codes, view.tone, float(full_scale))
    seen, paper = (shares[:, :, None] @ light)[:, :, 0] / counts
    on_solid, on_bare = (shares * model).sum(axis=2)[..., None] / counts
    # A narrow or soft mark shows its full ink nowhere.
    full = paper + (seen - paper) / np.maximum(on_solid - on_bare, 0.1)
    colour = np.maximum(full, 0.0) / np.maximum(paper, 1e-4) * view.palette.substrate
    shown = np.asarray(shares.any(axis=2).all(axis=0))
    return np.where(shown[:, None], colour, math.nan), at_full.tolist()


def _picked(
    inked: Inked, pieces: Sequence[Piece], chosen: Sequence[np.ndarray]
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Codes M x L x C and fitted ink M x L at places of M marks that show one of two colours, and
    which of these: 2 x M x L float32.

    chosen   both M x N bool, places that show it.
    """
    usable, flat = inked.area > 0.0, inked.area > 1.0
    found = [(which & flat, which & usable) for which in chosen]
    places = [tuple(_few(flats[k], every[k]) for flats, every in found) for k in range(len(pieces))]
    size = len(pieces), max(solid.size + bare.size for solid, bare in places)
    codes = np.zeros((*size, pieces[0].codes.shape[2]), pieces[0].codes.dtype)
    model, shares = np.zeros(size, np.float32), np.zeros((2, *size), np.float32)
    for k, (piece, both) in enumerate(zip(pieces, places, strict=True)):
        some, first = np.concatenate(both), both[0].size
        down, right = inked.pixel[k].take(some, axis=1, mode=INSIDE)
        row, col = inked.middle[k, :, 0].tolist()
        index = (down + (row - piece.patch.row)) * piece.codes.shape[1] + right
        index += col - piece.patch.col
        codes[k, : some.size] = piece.codes.reshape(-1, codes.shape[2]).take(index, axis=0)
        model[k, : some.size] = inked.model[k].take(some, mode=INSIDE)
        shares[0, k, :first], shares[1, k, first : some.size] = 1.0, 1.0
    return codes, model, shares


def _few(flats: np.ndarray, every: np.ndarray) -> np.ndarray:
    """Indices of flats of one mark (N bool), not more than need be; where they are few, of every
    place that shows no other print (N bool): a shape may be too narrow to have flats."""
    (some,) = flats.nonzero()
    if some.size < _ENOUGH:
        return every.nonzero()[0]
    return some[:: some.size // _PLENTY + 1]


def _at_an_end(codes: np.ndarray, full_scale: int) -> np.ndarray:
    # Channel by channel: over an axis of three, numpy's own minimum is ten times slower.
    planes = [codes[..., k] for k in range(codes.shape[-1])]
    low, high = (np.asarray(reduce(least, planes)) for least in (np.minimum, np.maximum))
    return np.asarray((low == full_scale) | (high == 0))
