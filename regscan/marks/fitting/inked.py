"""Inked: what the pixels of fitted marks show, for print quality and damage."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np

from regscan.marks.doubt import middle_spread
from regscan.marks.fitting.reading import Reading, side_by_side
from regscan.marks.fitting.solve import Solution


@dataclass(frozen=True, slots=True)
class Inked:
    """What the pixels of one fitted mark show: N places about its centre. Of M marks side by
    side every array has M as its first axis, and a mark with fewer places ends in empty ones.
    Single precision, but for pixels: it is for print quality and damage, not for places.

    web        2 x N, along and across the web from the centre, mm.
    middle     2 x 1, the template's middle pixel in the frame.
    pixel      2 x N, the pixels that they are, rows and columns from that one.
    area       pixels that a place stands for; 0 where something else is printed.
    cover      ink seen: 0 the paper as lit there, 1 the mark's solid.
    model      ink of the fitted picture.
    left       what the fit leaves of it, ink.
    """

    web: np.ndarray
    middle: np.ndarray
    pixel: np.ndarray
    area: np.ndarray
    cover: np.ndarray
    model: np.ndarray
    left: np.ndarray

    @staticmethod
    def together(marks: "Sequence[Inked]") -> "Inked":
        """Marks side by side."""
        names = [one.name for one in fields(Inked)]
        return Inked(*(side_by_side([getattr(mark, name) for mark in marks]) for name in names))

    def one(self, number: int, count: int) -> "Inked":
        """One of marks side by side, which has so many places."""
        return Inked(*(getattr(self, one.name)[number, ..., :count] for one in fields(Inked)))


@dataclass(frozen=True)
class Settled:
    """M marks that were solved side by side.

    centres   M x 2, where that puts them, px.
    """

    solution: Solution
    seen: Reading
    centres: np.ndarray

    @cached_property
    def inked(self) -> Inked:
        """What their pixels show: of few marks anybody asks by itself."""
        solution, seen, stack = self.solution, self.seen, self.seen.stack
        contrast = solution.contrast[:, None].astype(np.float32)
        paper = solution.theta[:, None, :3].astype(np.float32) @ seen.parts[:, :3]
        off = [
            one.template.matrix @ step
            for one, step in zip(seen.laid, seen.middle - self.centres, strict=True)
        ]
        return Inked(
            stack.web + np.array(off, np.float32)[:, :, None],
            seen.middle[:, :, None],
            stack.pixel,
            stack.area * (seen.usable > 0.0),
            (seen.light - paper[:, 0]) / contrast,
            seen.parts[:, 3],
            solution.residual / contrast,
        )

    def edge_noise(self, number: int) -> float:
        """Rms noise of one mark's pixels along its edge. It is told by the middle one of what all
        places are off by, which a tail or damage moves little."""
        if number not in self._edge_noises:
            drawn, usable = self.seen.laid[number].template, self.seen.usable[number]
            weight = usable[: drawn.tile.size]
            some, along = weight[drawn.thin], weight.take(drawn.groups[0])
            off = np.abs(self.solution.residual[number, : weight.size][drawn.thin]) * np.sqrt(some)
            if not weight.all():
                off, along = off.compress(some > 0.0), along.compress(along > 0.0)
            self._edge_noises[number] = middle_spread(off) * math.sqrt((1.0 / along).mean())
        return self._edge_noises[number]

    @cached_property
    def _edge_noises(self) -> dict[int, float]:
        return {}

    def inked_of(self, number: int) -> Inked:
        """What those of one of them show."""
        return self.inked.one(number, self.seen.stack.counts[number])
