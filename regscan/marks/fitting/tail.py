"""Tails: how ink beyond a mark's edge fades, by its length and one of a few ways.

A plate that bounced prints a second time, as strong as far as it reaches; slur thins out from
the edge on, evenly or fast. Of each way every length is tried; all are linear in the ink they
have at the edge, so one table of products of the pixels serves them all.
"""

from dataclasses import dataclass

import numpy as np

from regscan.marks.fitting.solve import ridged
from regscan.marks.shape.template import PARTS

_POWERS = (0, 1, 2)  # of 1 - far / length, the ink there
_SECOND_PRINT = _POWERS[0]  # the others are slur
_LENGTHS_PX = np.geomspace(1.2, 22.0, 24)
_NOTHING = 1e-9  # of the mark's own squares: edges moved beyond all places
_WEAKEST = 0.03  # of the mark's ink, at the edge
# A second print is the weaker one; one as strong as the first would only be a longer mark.
_STRONGEST = np.repeat([0.75, 1.1, 1.1], _LENGTHS_PX.size)
# Shorter than about two edges' widths a second print and slur look alike; slur is common.
_SHORTEST_PX = np.repeat([2.5, 0.0, 0.0], _LENGTHS_PX.size)


class Steps:
    """Steps beyond an edge in which ink is looked for.

    ends_px     T + 1, where they begin and end.   far_px   T, their middles.
    profiles    of all ways to fade one after the other, each of K lengths, times T: the ink of
                such tails in every step, times its width.
    too_short   of the same tails, those too short to be what they are said to be.
    """

    def __init__(self, ends_px: np.ndarray) -> None:
        self.ends_px, self.far_px = ends_px, (ends_px[1:] + ends_px[:-1]) / 2.0
        self.profiles = np.concatenate([self.profiles_of(p, _LENGTHS_PX) for p in _POWERS])
        self.too_short = np.tile(_LENGTHS_PX, len(_POWERS)) < _SHORTEST_PX

    def profiles_of(self, power: int, lengths_px: np.ndarray) -> np.ndarray:
        """K x T, of tails of such lengths that fade one way."""
        lengths = lengths_px[:, None]
        beyond = np.maximum(1.0 - self.ends_px / lengths, 0.0) ** (power + 1)
        return -np.diff(beyond * lengths / (power + 1), axis=1)


FINE = Steps(np.concatenate([np.arange(0.0, 8.0, 0.5), np.arange(8.0, 24.5)]))
# For a glance: of what a tail explains, as few steps see 95 % on average; 16 see 95.6.
COARSE = Steps(np.array([0.0, 1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 11.0, 15.0, 19.0, 24.0]))


def _either_way(of_all: np.ndarray) -> np.ndarray:
    """Of all tails along the trailing edge, and then of second prints along the other one."""
    return np.concatenate([of_all, of_all[: _LENGTHS_PX.size]])


# Each of T steps beyond either edge.
_EITHER_WAY = np.kron(np.eye(2), COARSE.profiles)[: COARSE.too_short.size + _LENGTHS_PX.size]
_STRONGEST_EITHER, _TOO_SHORT_EITHER = _either_way(_STRONGEST), _either_way(COARSE.too_short)


@dataclass(frozen=True, slots=True)
class Tail:
    """Ink beyond an edge that explains the pixels best of all that fade one way.

    power   of 1 - far / length_px, the ink there.
    left    weighted squares it leaves.   gained   how much less than without it.
    shift   (row, col) px, where it puts the centre from where the template was laid.
    grown   px, how far it puts the edges outside the template's.
    """

    power: int
    length_px: float
    left: float
    gained: float
    shift: tuple[float, float]
    grown: float

    @property
    def fades(self) -> bool:
        """Whether it is slur, not a second print."""
        return self.power != _SECOND_PRINT

    def parts(self, facing: np.ndarray) -> np.ndarray:
        """2 x N, the tail as strong as the mark, and its change per px of length.

        facing   T x N, the edge moved by FINE.far_px.
        """
        step = 0.05 * self.length_px
        lengths = self.length_px + np.array([-step, 0.0, step])
        below, here, above = FINE.profiles_of(self.power, lengths)
        return np.asarray(np.stack([here, (above - below) / (2.0 * step)]) @ facing)


def tails_of(
    rows: np.ndarray, facing: np.ndarray, weight: np.ndarray, *, trailing: bool
) -> list[Tail]:
    """Tails of one mark, the best of each way to fade, best first; none where no ink is there.

    rows       (P+1) x N, as in Reading.   weight   N.
    facing     T x N, the edge moved by FINE.far_px.
    trailing   whether it is the trailing edge: slur lies on that side only.
    """
    powers, count = _POWERS if trailing else _POWERS[:1], _LENGTHS_PX.size
    tried = _Tried.of(rows.astype(float), facing, weight, FINE.profiles[: len(powers) * count])
    gained = tried.gained_where(_STRONGEST, FINE.too_short)
    found = []
    for number, power in enumerate(powers):
        best = number * count + int(gained[number * count : (number + 1) * count].argmax())
        if np.isfinite(gained[best]):
            row, col, grown = (tried.theta[best, 1:] / tried.theta[best, 0]).tolist()
            length, more = float(_LENGTHS_PX[best - number * count]), float(gained[best])
            less = float(tried.without) - more
            found.append(Tail(power, length, less, more, (row, col), grown))
    return sorted(found, key=lambda tail: tail.left)


def most_gained(rows: np.ndarray, facing: np.ndarray, weight: np.ndarray) -> list[float]:
    """By how much less any tail of M marks leaves, weighted squares; at a glance: 0 for none.

    rows     M x (P+1) x N, as in Reading.   weight   M x N.
    facing   M x 2 T x N, the trailing edge and the one across it, moved by COARSE.far_px.
    """
    tried = _Tried.of(rows, facing, weight, _EITHER_WAY)
    gained = tried.gained_where(_STRONGEST_EITHER, _TOO_SHORT_EITHER).max(axis=-1)
    return [max(most, 0.0) for most in gained.tolist()]


@dataclass(frozen=True, slots=True)
class _Tried:
    """K tails, each beside all the model's parts, of one mark or of several side by side.

    strength   ... x K, of their ink.   gained   ... x K, weighted squares it explains.
    theta      ... x K x 4, the mark's ink, its shift down rows and along columns, its growth.
    without    ..., weighted squares left where there is none.
    """

    strength: np.ndarray
    gained: np.ndarray
    theta: np.ndarray
    without: np.ndarray

    @staticmethod
    def of(
        rows: np.ndarray, facing: np.ndarray, weight: np.ndarray, profiles: np.ndarray
    ) -> "_Tried":
        """profiles   K x T, what each has of the T rows of facing.

        Tails are compared to the last digit of single precision and beyond, unless at a glance.
        """
        all_rows = np.concatenate([rows[..., :-1, :], facing, rows[..., -1:, :]], axis=-2)
        products = (all_rows * weight[..., None, :]) @ np.swapaxes(all_rows, -1, -2)
        products = products.astype(float)
        # What the mark's own parts explain of the edges moved and of the light, and what they
        # leave.
        own, more = slice(PARTS), slice(PARTS, None)
        across = products[..., own, more]
        by_own = np.linalg.solve(ridged(products[..., own, own]), across)
        beyond = products[..., more, more] - np.swapaxes(across, -1, -2) @ by_own
        moment = beyond[..., :-1, -1] @ profiles.T
        square = ((profiles @ beyond[..., :-1, :-1]) * profiles).sum(axis=-1)
        strength = moment / np.maximum(square, _NOTHING * products[..., 3, 3, None])
        few = by_own[..., [3, 4, 5, 8], :]
        taken = profiles @ np.swapaxes(few[..., :-1], -1, -2)
        theta = few[..., None, :, -1] - strength[..., None] * taken
        return _Tried(strength, moment * strength, theta, beyond[..., -1, -1])

    def gained_where(self, strongest: np.ndarray, too_short: np.ndarray) -> np.ndarray:
        """... x K, what they gain; -inf where their ink is too weak, too strong or ends too near.

        strongest, too_short   of these K tails and maybe more."""
        ink, count = self.strength / self.theta[..., 0], self.strength.shape[-1]
        wrong = (ink < _WEAKEST) | (ink > strongest[:count]) | too_short[:count]
        return np.where(wrong, -np.inf, self.gained)


@dataclass(frozen=True, slots=True)
class Agreed:
    """What all ways to fade say of a mark, each as likely as it explains the pixels.

    shift    (row, col) px, from where the one that explains most puts its centre.
    unsure   (row, col) px, one sigma, by which they disagree.
    grown    px, by which they put its edges further out than that one does.
    """

    shift: tuple[float, float]
    unsure: tuple[float, float]
    grown: float


def agreed(tails: list[Tail], unit: float) -> Agreed:
    """unit   squares that noise leaves of one place."""
    likely = _likely(tails, unit)
    likely /= likely.sum()
    said = np.array([(*tail.shift, tail.grown) for tail in tails])
    off = said - said[0]
    mean = likely @ off
    row, col, grown = mean.tolist()
    unsure_row, unsure_col, _ = np.sqrt(likely @ (off - mean) ** 2).tolist()
    return Agreed((row, col), (unsure_row, unsure_col), grown)


def fades(tails: list[Tail], unit: float) -> bool:
    """Whether the ink beyond an edge is rather slur than a second print; unit as above."""
    slur = np.array([tail.fades for tail in tails])
    likely = _likely(tails, unit)
    return bool(likely[slur].sum() > likely[~slur].sum())


def may_fade(tails: list[Tail], clear: float) -> bool:
    """Whether it may be slur; clear: squares by which a second print would have to explain more."""
    slurs = [tail.left for tail in tails if tail.fades]
    return bool(slurs) and min(slurs) < tails[0].left + clear


def _likely(tails: list[Tail], unit: float) -> np.ndarray:
    return np.exp([-0.5 * (tail.left - tails[0].left) / unit for tail in tails])
