"""All settings of all movements brought to where they fit best together, by Gauss and Newton.

The search moves one setting of one movement at a time, and stops short where settings stand for
each other (where a step begins, and how slowly it comes up). The doubts of the fit count on all
of them being at their best.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from regscan.drift.model.doubt import searched, slope
from regscan.drift.model.field import Field
from regscan.drift.model.fit import Model, Scale, fit
from regscan.drift.model.movement import Movement, columns_of, sizes_of
from regscan.drift.model.refine import FLAT, LIMITS

ROUNDS = 8
HALVINGS = (1.0, 0.5, 0.25, 0.1)


def polished(field: Field, scale: Scale, moves: Sequence[Movement]) -> list[Movement]:
    """The movements with better settings; as they were where nothing is to be gained."""
    moves, misfit = list(moves), fit(field, scale, columns_of(field, moves)).misfit
    for _ in range(ROUNDS):
        steps = _steps(field, scale, moves)
        tried = (_moved(moves, steps, share) for share in HALVINGS)
        found = ((fit(field, scale, columns_of(field, one)).misfit, one) for one in tried)
        better = next((pair for pair in found if pair[0] < misfit - FLAT), None) if steps else None
        if better is None:
            break
        misfit, moves = better
    return moves


def _steps(field: Field, scale: Scale, moves: Sequence[Movement]) -> list[tuple[int, str, float]]:
    """(movement, setting, how far to move it), from the fit linearised in all settings."""
    fitted = fit(field, scale, columns_of(field, moves))
    slopes = [
        (number, name, slope(field, move, fitted.size[part], name))
        for number, (move, part) in enumerate(zip(moves, sizes_of(moves), strict=True))
        for name in searched(move)
    ]
    told = [(number, name, s) for number, name, s in slopes if np.abs(s).max() > 1e-12]
    if not told:
        return []
    columns = np.stack([s for _, _, s in told], axis=2)
    both = np.concatenate([columns_of(field, moves), columns], axis=2)
    answer = Model(scale, scale.whiten(both)).solve(fitted.left)[-len(told) :]
    return [(n, name, by) for (n, name, _), by in zip(told, answer.tolist(), strict=True)]


def _moved(
    moves: Sequence[Movement], steps: Sequence[tuple[int, str, float]], share: float
) -> list[Movement]:
    found = list(moves)
    for number, name, by in steps:
        move = found[number]
        low, high = LIMITS.get(name, (-np.inf, np.inf))
        to = float(np.clip(move.settings[name] + share * by, low, high))
        if name.startswith("tau"):
            to = max(to, 0.5 * move.settings[name])
        shapes = tuple(one.but(**{name: to}) for one in move.shapes)
        found[number] = replace(move, shapes=shapes)
    return found
