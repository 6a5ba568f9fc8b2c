"""Movement: a shape along the run with a pattern over stations; sizes are found by the fit."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from regscan.drift.model.field import Field
from regscan.drift.model.patterns import Pattern
from regscan.drift.model.shapes import Shape
from regscan.drift.model.transport import DRIVES, answer, sampled, step_table


@dataclass(frozen=True, slots=True)
class Movement:
    """What moved together: every shape with every share of the pattern has a size of its own.

    shapes   one; for a wave its cosine and its sine.
    """

    shapes: tuple[Shape, ...]
    pattern: Pattern

    @property
    def kind(self) -> str:
        """The kind of its shape."""
        return self.shapes[0].kind

    @property
    def sizes(self) -> int:
        """How many sizes are free."""
        return len(self.shapes) * self.pattern.sizes

    @property
    def settings(self) -> dict[str, float]:
        """The settings of its shape."""
        return self.shapes[0].settings

    def at(self, field: Field) -> np.ndarray:
        """moments x stations of the field x sizes, against the reference."""
        own = [own_at(field, one, self.pattern) for one in self.shapes]
        return shared_out(field, own, self.pattern)


def own_at(field: Field, shape: Shape, pattern: Pattern | None) -> np.ndarray:
    """moments x observed stations: the shape where each printed, or the web's answer to it."""
    if pattern is None or pattern.kind not in DRIVES:
        return field.together(shape.at(field.clock))
    spans, web = field.spans, field.clock.web_m
    assert web is not None
    if shape.kind == "step":
        settings = {"rise_m": 0.0} | shape.settings
        lengths = tuple(spans.span_m.tolist())
        rise = round(settings["rise_m"], 3)
        grid, table = step_table(pattern.drive, pattern.acts_at, rise, lengths)
        return field.together(sampled(table, grid, web - settings["at_m"], spans))
    acts = shape.at(field.along)[:, 0]
    table = answer(pattern.drive, pattern.acts_at, acts, field.grid_m, spans)
    return field.together(sampled(table, field.grid_m, web, spans))


def shared_out(field: Field, own: Sequence[np.ndarray], pattern: Pattern) -> np.ndarray:
    """Shapes (each moments x observed stations) by a pattern; moments x stations x sizes."""
    shares = np.array(pattern.shares).T
    columns = [one[:, :, None] * shares[None, :, :] for one in own]
    return field.against(np.concatenate(columns, axis=2))


def columns_of(field: Field, moves: Sequence[Movement]) -> np.ndarray:
    """All columns of some movements side by side."""
    if not moves:
        return np.zeros((*field.value_mm.shape, 0))
    return np.concatenate([move.at(field) for move in moves], axis=2)


def sizes_of(moves: Sequence[Movement]) -> list[slice]:
    """Where each movement's sizes stand among all."""
    ends = np.cumsum([0, *(move.sizes for move in moves)]).tolist()
    return [slice(a, b) for a, b in pairwise(ends)]
