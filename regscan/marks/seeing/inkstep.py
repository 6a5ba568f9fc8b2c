"""What an ink makes of the light beside it: how a mark's edge should look on any ground."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from regscan.marks.seeing.inks import Palette

_LEAST = 0.04  # of white: a smaller step is not told from grain
_DARK = 0.02  # of white: what is darker is all alike to a camera
# Cosine between the step seen and the ink's, in logarithms, and its size over the ink's: inks
# trap badly on inks, so that a step may well be smaller there, in one channel more than others.
_ALIKE = 0.85
_LOW, _HIGH = 0.45, 1.6
_MORE, _FULL = 1.15, 1.0  # of a step: more than the ink makes; what it makes, or less
_AS_ONE = 0.33  # of what two lights should differ by: they do not
_LEAST_HELD = 0.3  # of the same in one channel, which may have less of it than the others


@dataclass(frozen=True, slots=True)
class InkStep:
    """How light of C channels changes from outside an ink's edge to inside.

    through   share of light that it lets through; 0 for an opaque ink.
    own       light of its own: an opaque ink's colour.
    """

    through: np.ndarray
    own: np.ndarray

    @staticmethod
    def of(palette: Palette, ink: str) -> "InkStep":
        """The step of one of a palette's inks."""
        number = palette.names.index(ink)
        steps = InkStep.of_all(palette)
        return InkStep(steps.through[number, 0], steps.own[number, 0])

    @staticmethod
    @lru_cache(maxsize=8)
    def of_all(palette: Palette) -> "InkStep":
        """The steps of a palette's K inks side by side, K x 1 x C: they broadcast."""
        solid, opaque = palette.inks[:, None], np.array(palette.opaque)[:, None, None]
        through = np.minimum(solid / np.maximum(palette.substrate, 1e-3), 1.0)
        parts = np.where(opaque, 0.0, through), np.where(opaque, solid, 0.0)
        return InkStep(*(part.astype(np.float32) for part in parts))

    def inside(self, outside: np.ndarray) -> np.ndarray:
        """... x C, light that the ink should make of light beside it."""
        return np.asarray(outside * self.through + self.own)

    def shown(self, inside: np.ndarray, outside: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """(whether light inside and outside differ by this ink; their step over its), both ...

        False where the ink would make no step to speak of: nothing is known there.
        """
        due, beside = self.inside(outside), _logs(outside)
        seen, expected = beside - _logs(inside), beside - _logs(due)
        wanted, along = _products(expected, expected), _products(seen, expected)
        size = _products(seen, seen)
        ratio = along / np.maximum(wanted, 1e-12)
        shows = (along > _ALIKE * np.sqrt(wanted * size)) & _stands_out(outside, due)
        return shows & (ratio > _LOW) & (ratio < _HIGH), ratio

    def unlike(self, inside: np.ndarray, outside: np.ndarray) -> np.ndarray:
        """..., share of a step in light that this ink, trapping well or badly, leaves over."""
        beside = _logs(outside)
        seen, expected = beside - _logs(inside), beside - _logs(self.inside(outside))
        wanted = np.maximum(_products(expected, expected), 1e-12)
        ratio = np.clip(_products(seen, expected) / wanted, _LOW, _HIGH)
        left = seen - ratio[..., None] * expected
        size2 = np.maximum(_products(seen, seen), 1e-12)
        return np.asarray(np.sqrt(_products(left, left) / size2))

    def too_large(self, inside: np.ndarray, outside: np.ndarray) -> np.ndarray:
        """A bool, which steps in light (A x C on either side) are larger than this ink's, though
        where they are not it looks the same: what lies outside is not what the ink lies on, but
        what is printed, or bare, beyond another edge."""
        _, ratio = self.shown(inside, outside)
        larger, others = np.flatnonzero(ratio > _MORE), np.flatnonzero(ratio < _FULL)
        found = np.zeros(len(ratio), bool)
        seen, due = _logs(inside), _logs(self.inside(outside))
        apart, expected = (
            np.linalg.norm(light[larger, None] - light[None, others], axis=2)
            for light in (seen, due)
        )
        found[larger] = (apart < _AS_ONE * expected).any(axis=1)
        return found

    def may_lie_in(self, light: Sequence[np.ndarray], bare: np.ndarray) -> np.ndarray:
        """... bool, whether light (C planes) is dark enough to hold this ink: no more of it than
        of the substrate comes through, in the channel where the ink stands out most. True
        everywhere for an opaque ink, which may be lighter than what it lies on."""
        steps = _logs(bare) - _logs(self.inside(bare))
        most = int(np.argmax(steps))
        if self.own.any() or steps[most] <= 0.0:
            return np.ones_like(light[0], bool)
        darkest = math.exp(float(_logs(bare)[most] - _LEAST_HELD * steps[most])) - _DARK
        return np.asarray(light[most] <= darkest)

    def visible(self, outside: np.ndarray) -> np.ndarray:
        """... bool, whether the ink makes a step beside such light at all."""
        return _stands_out(outside, self.inside(outside))


def _stands_out(outside: np.ndarray, inside: np.ndarray) -> np.ndarray:
    """... bool, whether there is a step to speak of between light on either side."""
    step = outside - inside
    return np.asarray(_products(step, step) > _LEAST**2)


def _products(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """..., scalar products over channels: einsum takes three times as long over so few."""
    both = one * other
    channels = both.shape[-1]
    return np.asarray(both.reshape(-1, channels) @ np.ones(channels, both.dtype)).reshape(
        both.shape[:-1]
    )


def _logs(light: np.ndarray) -> np.ndarray:
    return np.log(np.maximum(light, 0.0) + _DARK)
