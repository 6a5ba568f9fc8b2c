"""The colour that marks show beside the paper around them."""

import math
from collections.abc import Sequence
from functools import reduce

import numpy as np

from regscan.marks.fitting.colourway import Piece
from regscan.marks.fitting.inked import Inked
from regscan.marks.seeing.light import to_light
from regscan.marks.seeing.view import View

_WELL_INSIDE = 0.9  # the fitted picture's ink share of pixels that show the ink's colour
_ENOUGH = 30  # flats that show a colour as well as all pixels do


def colours_shown(
    view: View, inked: Inked, pieces: Sequence[Piece]
) -> tuple[np.ndarray, list[float]]:
    """Every mark's colour, and the share of its pixels, or of the paper's beside it if that is
    more, that stand at either end of the scale in every channel.

    inked   of M marks side by side;   pieces   of the frame that they were read from.

    A colour is the ink's light over that of the paper beside it, times the substrate's
    colour: M x C. NaN where either shows nowhere.
    """
    solid = _flats(inked, inked.model > _WELL_INSIDE * inked.model.max(axis=1, keepdims=True))
    bare = _flats(inked, inked.model < 1.0 - _WELL_INSIDE)
    codes, shares = _picked(inked, pieces, np.stack([solid, bare]))
    counts = np.maximum(np.count_nonzero(shares, axis=2)[..., None], 1)
    full_scale = np.iinfo(codes.dtype).max
    at_full = ((_at_an_end(codes, full_scale) * shares).sum(axis=2) / counts[..., 0]).max(axis=0)
    light = to_light(codes, view.tone, float(full_scale))
    seen, paper = (shares[:, :, None] @ light)[:, :, 0] / counts
    on_solid, on_bare = ((inked.model * np.stack([solid, bare])).sum(axis=2)[..., None]) / counts
    # A narrow or soft mark shows its full ink nowhere.
    full = paper + (seen - paper) / np.maximum(on_solid - on_bare, 0.1)
    colour = np.maximum(full, 0.0) / np.maximum(paper, 1e-4) * view.palette.substrate
    shown = np.asarray(shares.any(axis=2).all(axis=0))
    return np.where(shown[:, None], colour, math.nan), at_full.tolist()


def _flats(inked: Inked, which: np.ndarray) -> np.ndarray:
    """Flats among some places (M x N bool) where there are enough, else all of them that show
    no other print: a shape may be too narrow to have flats."""
    flats = which & (inked.area > 1.0)
    few = np.count_nonzero(flats, axis=1, keepdims=True) < _ENOUGH
    return np.where(few, which & (inked.area > 0.0), flats)


def _picked(
    inked: Inked, pieces: Sequence[Piece], chosen: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Codes M x L x C of the places in one of two choices (2 x M x N bool), and whether each is
    in them: 2 x M x L float32."""
    some = np.asarray(chosen.any(axis=0))
    most = int(np.count_nonzero(some, axis=1).max())
    channels = pieces[0].codes.shape[2]
    codes = np.zeros((len(pieces), most, channels), pieces[0].codes.dtype)
    shares = np.zeros((2, len(pieces), most), np.float32)
    for k, piece in enumerate(pieces):
        places = np.flatnonzero(some[k])
        down, right = inked.pixel[k].take(places, axis=1)
        index = (down - piece.patch.row) * piece.codes.shape[1] + (right - piece.patch.col)
        codes[k, : places.size] = piece.codes.reshape(-1, channels).take(index, axis=0)
        shares[:, k, : places.size] = chosen[:, k].take(places, axis=1)
    return codes, shares


def _at_an_end(codes: np.ndarray, full_scale: int) -> np.ndarray:
    # Channel by channel: over an axis of three, numpy's own minimum is ten times slower.
    planes = [codes[..., k] for k in range(codes.shape[-1])]
    low, high = (np.asarray(reduce(least, planes)) for least in (np.minimum, np.maximum))
    return np.asarray((low == full_scale) | (high == 0))
