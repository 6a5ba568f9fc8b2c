"""Light that bends beside a mark, as at the rim of a lamp's streak on foil, taken out of a patch.

A fit takes the paper's light for a plane. Where it bends, what is left looks like print on or
beside the mark; but it is smooth, and shows on bare paper all round.
"""

from dataclasses import replace

import numpy as np

from regscan.marks.doubt import middle_spread
from regscan.marks.fitting.colourway import Piece
from regscan.marks.fitting.fit import Fit
from regscan.marks.limits import LIMITS
from regscan.marks.shape.template import Template

_BARE = 0.02  # of the ink's solid in the fitted picture
_DEGREE, _PLANE = 4, 3  # of the surface; how many of its terms make a plane
_ENOUGH = 10  # bare places for every term of the surface
_UNEVEN = 0.03  # of the contrast, spread of what a plane leaves: noise and rough paper leave less
_SMOOTHER = 0.6  # of that, what a surface leaves where it is the light that bends
_ROUNDS = 3
_FAR = 4.0  # spreads: print beside the mark, which the surface must not follow
_PRINT = 0.03  # of bare paper: an edge of print leaves three times as much that far off
_DIMMEST = 0.25  # of the light in the middle; and its inverse the brightest


def evened(piece: Piece, template: Template, fit: Fit) -> Piece | None:
    """The piece as it would be lit evenly, without pixels at the end of the scale: how bright they
    were is not known. None where its light does not bend, too little bare paper is left to tell,
    or such pixels hide too much of the outline.

    fit   of the mark as it is lit."""
    patch, inked = piece.patch, fit.inked
    usable = inked.area > 0.0
    paper = usable & (np.abs(inked.model) < _BARE)
    if not _bends(inked.left[paper]):
        return None  # most marks
    rows, cols = inked.middle + inked.pixel - [[patch.row], [patch.col]]
    full = (piece.codes == np.iinfo(piece.codes.dtype).max).any(axis=2)
    told = usable.copy()
    told[usable] = ~full[rows[usable], cols[usable]]
    if np.mean(~told[template.edge & usable]) > LIMITS.lost_outline:
        return None
    bare = told & paper
    terms = _terms(*_apart(template, *inked.pixel[:, bare]))
    if bare.sum() < _ENOUGH * len(terms):
        return None
    rows, cols = rows[bare], cols[bare]
    light = np.where(template.tile[bare], patch.means[rows, cols], patch.light[rows, cols])
    root = np.sqrt(inked.area[bare])
    # The fit's own plane may be pulled by print; what stands out is left out here.
    _, plain = _laid(terms[:_PLANE], light, root)
    surface, rest = _laid(terms, light, root)
    bent = _bends(plain / fit.contrast) and _spread(rest) < _SMOOTHER * _spread(plain)
    if not bent or np.mean(np.abs(rest) > _FAR * _spread(rest)) > _PRINT:
        return None
    with np.errstate(divide="ignore", invalid="ignore"):
        seen = surface @ terms / surface[0]
    if not (seen.min() >= _DIMMEST and seen.max() <= 1.0 / _DIMMEST):
        return None  # no light does that: what is there is no bare paper
    down, right = (inked.middle[:, 0] - (patch.row, patch.col)).tolist()
    every = np.indices(patch.light.shape, np.float32) - [[[down]], [[right]]]
    share = np.tensordot(surface / surface[0], _terms(*_apart(template, *every)), 1)
    share = np.clip(share, _DIMMEST, 1.0 / _DIMMEST).astype(np.float32)
    weight = np.where(full, np.float32(0.0), share**2)
    if patch.weight is not None:
        weight *= patch.weight
    return replace(piece, patch=replace(patch, light=patch.light / share, weight=weight))


def _bends(left: np.ndarray) -> bool:
    """Whether a plane leaves more than noise and rough paper do, as a share of the contrast."""
    return _spread(left) >= _UNEVEN


def _spread(left: np.ndarray) -> float:
    return middle_spread(np.abs(left))


def _laid(terms: np.ndarray, light: np.ndarray, root: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """T, how much of every term light has, and what that leaves of it, N.

    root   of the weight of each."""
    near = np.ones(light.size, bool)
    for _ in range(_ROUNDS):
        some = root * near
        parts = np.linalg.lstsq((terms * some).T, light * some, rcond=None)[0]
        left = light - parts @ terms
        near = np.abs(left) < _FAR * _spread(left[near])
    return parts, left


def _apart(template: Template, rows: np.ndarray, cols: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Pixels counted from the template's middle one, as shares of its size."""
    return rows / template.half_rows, cols / template.half_cols


def _terms(down: np.ndarray, right: np.ndarray) -> np.ndarray:
    """T x ..., the products of powers that a surface is the sum of; the first is 1."""
    return np.stack(
        [
            down**row * right ** (power - row)
            for power in range(_DEGREE + 1)
            for row in range(power + 1)
        ]
    )
