"""One channel explained: periodic movements out, the rest entered term by term, noise anew."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from regscan.drift.behaviour import Channel
from regscan.drift.model.field import Course, Field, field_of, thinned
from regscan.drift.model.fit import Fit, Scale, fit, scale_of
from regscan.drift.model.movement import Movement, columns_of
from regscan.drift.model.pursuit import FEW, Candidate, Pursuit
from regscan.drift.model.start import first_scale
from regscan.drift.model.views import View
from regscan.drift.model.waves import CAREFUL, EARLY, find_waves


@dataclass(frozen=True)
class Explained:
    """What moved in one channel, and how well that is known.

    field    all moments; slow the same with moments taken together, waves taken out.
    moves    slow movements; fit their sizes (on slow); rivals: what else may stand for each,
             the gains on one scale with `own_gain`.
    waves    periodic movements; wave_fit their sizes (on field, slow movements taken out).
    """

    field: Field
    slow: Field
    scale: Scale
    moves: tuple[Movement, ...]
    fit: Fit
    rivals: tuple[tuple[Candidate, ...], ...]
    waves: tuple[Movement, ...]
    wave_scale: Scale
    wave_fit: Fit

    @property
    def residual_mm(self) -> np.ndarray:
        """What is left of all moments, moments x stations of the field."""
        return self.wave_fit.residual_mm


def explain(course: Course, channel: Channel, view: View) -> Explained | None:
    """Terms of one channel; None when too little was measured."""
    field = field_of(course, channel)
    if field is None:
        return None
    scale, left = first_scale(field)
    waves = find_waves(field, scale, left, EARLY)
    slow = _without(field, scale, waves)
    moves, slow_scale = _slow(slow, view, first_scale(slow)[0], ())
    for _ in range(2):
        known = _moved(field, _without(field, scale, waves), slow_scale, moves)
        rest = replace(field, value_mm=field.value_mm - known)
        scale = _noise(rest, columns_of(rest, waves), scale)
        before, waves = waves, find_waves(rest, scale, _left(rest, scale, []), CAREFUL)
        if _same(before, waves):
            break
        moves, slow_scale = _slow(_without(field, scale, waves), view, slow_scale, moves)
    slow = _without(field, scale, waves)
    known = _moved(field, slow, slow_scale, moves)
    rest = replace(field, value_mm=field.value_mm - known)
    columns = columns_of(rest, waves)
    scale = _noise(rest, columns, scale)
    pursuit = Pursuit(slow, view, slow_scale) if moves else None
    return Explained(
        field=field,
        slow=slow,
        scale=slow_scale,
        moves=tuple(moves),
        fit=fit(slow, slow_scale, columns_of(slow, moves)),
        rivals=tuple(tuple(pursuit.rivals(moves, k)) for k in range(len(moves))) if pursuit else (),
        waves=tuple(waves),
        wave_scale=scale,
        wave_fit=fit(rest, scale, columns),
    )


def _slow(
    field: Field, view: View, scale: Scale, start: Sequence[Movement]
) -> tuple[list[Movement], Scale]:
    """Slow movements; found with a first idea of the noise, then with that about themselves.

    Many movements may be a tangle that began with a poor idea of the noise. They are looked for
    once more from nothing, and the better supported of both explanations stands.
    """
    moves = Pursuit(field, view, scale).run(start)
    scale = _noise(field, columns_of(field, moves), scale)
    pursuit = Pursuit(field, view, scale)
    moves = pursuit.run(moves)
    if len(moves) > FEW:
        moves = min(moves, pursuit.run(), key=pursuit.cost)
    return moves, _noise(field, columns_of(field, moves), scale)


def _noise(field: Field, columns: np.ndarray, scale: Scale) -> Scale:
    left = _left_by(field, scale, columns)
    terms = np.concatenate([np.ones((len(left), 1)), columns.mean(axis=1)], axis=1)
    return scale_of(field, left, terms)


def _left_by(field: Field, scale: Scale, columns: np.ndarray) -> np.ndarray:
    return fit(field, scale, columns).residual_mm


def _left(field: Field, scale: Scale, waves: Sequence[Movement]) -> np.ndarray:
    return _left_by(field, scale, columns_of(field, waves))


def _without(field: Field, scale: Scale, waves: Sequence[Movement]) -> Field:
    """The field without its waves, moments taken together."""
    if not waves:
        return thinned(field)
    columns = columns_of(field, waves)
    size = fit(field, scale, columns).size
    return thinned(replace(field, value_mm=field.value_mm - columns @ size))


def _moved(
    field: Field, slow: Field, scale: Scale, moves: Sequence[Movement]
) -> np.ndarray | float:
    """What the slow movements do at all moments."""
    if not moves:
        return 0.0
    size = fit(slow, scale, columns_of(slow, moves)).size
    return np.asarray(columns_of(field, moves) @ size)


def _same(before: Sequence[Movement], after: Sequence[Movement]) -> bool:
    def key(move: Movement) -> tuple[object, ...]:
        return move.kind, move.pattern.kind, move.pattern.at

    return [key(move) for move in before] == [key(move) for move in after]
