"""Mixture: the linear system of a laid scene, with the colours of its ink sets solved out.

Light at every pixel read is the sum over sets of (share) x (colour), and changes
at known rates when marks move or grow or the optics soften. Colours are held near
the palette's by as much as print is known to vary; they are eliminated exactly,
so what is left to solve is as small as the number of marks.
"""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from regscan.marks.overlap.rates import put_rates
from regscan.marks.overlap.scene import Scene, Window
from regscan.marks.seeing.inks import Palette

_SOLID_SPREAD = 0.06  # how far a solid ink's light may lie from the palette's (one sigma)
_OVERPRINT_SPREAD = 0.12  # and an overprint's from its prediction
_PLACE_SPREAD_PX = 50.0  # a mark that the picture says nothing about stays where it is
_GROWTH_SPREAD_PX = 0.7
_SOFTNESS_SPREAD = 0.5  # px^2
_FLATS_PITCH = 3  # px between the pixels that colours are known by
_FLATS = 2000  # of them in a large window
_MANY_FELT = 4500
# Of what a direction would say if it shared nothing with others: sums in single precision say
# no less than the first by themselves, and the second is nothing.
_ROUNDING, _UNKNOWN = 1e-6, 1e-9


@dataclass(frozen=True, slots=True)
class Picture:
    """What a joint fit reads: light as a share of perfect white, evenly lit.

    light      rows x cols x C.   weight   rows x cols x C, inverse variance, 0 unusable.
    pitch_px   px of the frame from one of its pixels to the next.
    """

    window: Window
    light: np.ndarray
    weight: np.ndarray
    pitch_px: float = 1.0


@dataclass(frozen=True)
class Coloured:
    """A scene laid over a picture, with the colours that explain most of it: S of them, at N
    pixels read of C channels.

    which    of the S colours, for every set of the scene.
    pixels   N, places in the window, rising.   felt   N bool, near an outline.
    root     C x N float32, square root of the weight.
    shares   S x N float32, of the pixels.   left   C x N, the light less what `start` explains.
    start    S x C colours that explain the flats.
    prior    S x C the palette's.   hold   S, how firmly they are held there.
    """

    scene: Scene
    which: np.ndarray
    pixels: np.ndarray
    felt: np.ndarray
    root: np.ndarray
    shares: np.ndarray
    left: np.ndarray
    start: np.ndarray
    prior: np.ndarray
    hold: np.ndarray

    @staticmethod
    def of(picture: Picture, scene: Scene, palette: Palette) -> "Coloured":
        """The colours that a picture gives a scene."""
        window = scene.window
        # What an opaque ink hides makes no set of its own: it would be seen in any speck of grey.
        sets = sorted({palette.seen(bits) for bits in scene.sets})
        which = np.array([sets.index(palette.seen(bits)) for bits in scene.sets])
        prior = np.array([palette.mix(bits) for bits in sets])
        hold = 1.0 / np.array([_spread(bits) for bits in sets]) ** 2
        flats, felt = _flats(window), _read(scene.felt())
        # Places are read where the picture changes; a sparse grid is enough to know colours by.
        pixels = np.flatnonzero(felt | flats)
        shares = scene.shares.reshape(len(scene.sets), -1).take(pixels, axis=1)
        if len(sets) < len(which):
            shares = (which == np.arange(len(sets))[:, None]).astype(np.float32) @ shares
        channels = picture.light.shape[2]
        light, weight = (
            np.ascontiguousarray(both.reshape(-1, channels).take(pixels, axis=0).T, np.float32)
            for both in (picture.light, picture.weight)
        )
        root = np.sqrt(weight)
        even = np.flatnonzero(flats[pixels])
        flat_shares, flat_light, flat_root = (
            values.take(even, axis=1) for values in (shares, light, root)
        )
        start = _colours_alone(flat_shares, flat_light, flat_root, prior, hold)
        left = light - start.T.astype(np.float32) @ shares
        return Coloured(scene, which, pixels, felt[pixels], root, shares, left, start, prior, hold)

    @property
    def noise(self) -> float:
        """sd of the light left away from outlines, over that assumed of a camera: where marks
        lie to a pixel hardly changes it, what else is printed there does."""
        root = self.root[:, ~self.felt]
        known = int(np.count_nonzero(root))
        left = self.left[:, ~self.felt] * root
        return math.sqrt(float(np.vdot(left, left)) / known) if known else 0.0


@dataclass(frozen=True)
class Mixture:
    """A coloured scene linear in its steps and colours.

    Steps are P: row and col of every mark, then growths, then two softness variances. Colours
    are S, given as what they differ from the coloured scene's.

    parts    C x (P + S + 1) x N float32, times root: rates of the steps, shares of the sets,
             and the light left.
    """

    coloured: Coloured
    parts: np.ndarray

    @staticmethod
    def of(coloured: Coloured) -> "Mixture":
        """With the rates at which its picture changes."""
        scene, root, shares = coloured.scene, coloured.root, coloured.shares
        steps = 3 * scene.count + 2
        parts = np.empty((len(root), steps + len(shares) + 1, root.shape[1]), np.float32)
        put_rates(parts[:, :steps], scene, coloured.start[coloured.which], coloured.pixels)
        parts[:, steps:-1] = shares
        parts[:, -1] = coloured.left
        parts *= root[:, None]
        return Mixture(coloured, parts)

    @property
    def steps(self) -> int:
        """P, how many steps."""
        return self.parts.shape[1] - len(self.coloured.start) - 1

    @cached_property
    def _sums(self) -> np.ndarray:
        """C x K x K, products of all parts."""
        return np.stack([parts @ parts.T for parts in self.parts])

    def solved(self, trust: np.ndarray | None = None) -> "Solution":
        """Steps and colours that explain the light best.

        trust   N, what the weight of each pixel is to be multiplied by.
        """
        sums = self._sums.astype(np.float64)
        if trust is not None:
            # Few pixels are trusted less: taking out what they said is quicker than anew.
            less = np.flatnonzero(trust < 1.0)
            taken = self.parts[:, :, less] * np.sqrt(1.0 - trust[less]).astype(np.float32)
            sums -= taken @ taken.transpose(0, 2, 1)
        count, coloured = self.steps, self.coloured
        cross = sums[:, :count, count:-1]
        asked = np.concatenate([sums[:, count:-1, -1:], cross.transpose(0, 2, 1)], axis=2)
        asked[:, :, 0] += (coloured.hold[:, None] * (coloured.prior - coloured.start)).T
        both = np.linalg.solve(sums[:, count:-1, count:-1] + np.diag(coloured.hold), asked)
        alone, follow = both[:, :, 0], both[:, :, 1:]
        hessian = (sums[:, :count, :count] - cross @ follow).sum(axis=0)
        gradient = (sums[:, :count, -1] - (cross @ alone[:, :, None])[:, :, 0]).sum(axis=0)
        hessian[np.diag_indices(count)] += self._ridge() + 1e-9 * hessian.diagonal().max()
        hessian, steps = known_steps(hessian, gradient)
        colours = (alone - follow @ steps).T
        left = self._left(steps, colours)
        if trust is not None:
            left *= np.sqrt(trust)
        freedom = max(int(np.count_nonzero(left)) - steps.size - colours.size, 1)
        noise = math.sqrt(float(np.einsum("cn,cn->", left, left)) / freedom)
        return Solution(self, steps, hessian, coloured.start + colours, follow, left, noise)

    def _left(self, steps: np.ndarray, colours: np.ndarray) -> np.ndarray:
        explained = [
            np.concatenate([steps, colour]).astype(np.float32) @ parts[:-1]
            for colour, parts in zip(colours.T, self.parts, strict=True)
        ]
        return np.asarray(self.parts[:, -1] - np.stack(explained))

    def _ridge(self) -> np.ndarray:
        ridge = np.full(self.steps, _PLACE_SPREAD_PX**-2)
        ridge[2 * self.coloured.scene.count : -2] = _GROWTH_SPREAD_PX**-2
        ridge[-2:] = _SOFTNESS_SPREAD**-2
        return ridge


@dataclass(frozen=True)
class Solution:
    """A mixture solved: its P steps with their normal matrix, and the S x C colours.

    follow   C x S x P, how much less of each colour a step makes right.
    left     C x N, light left over times the root of its weight.
    noise    sd of that.
    """

    mixture: Mixture
    steps: np.ndarray
    hessian: np.ndarray
    colours: np.ndarray
    follow: np.ndarray
    left: np.ndarray
    noise: float

    @property
    def coloured(self) -> Coloured:
        """The scene, and what of the picture was read."""
        return self.mixture.coloured

    @cached_property
    def inverse(self) -> np.ndarray:
        """P x P, of the normal matrix: the covariance of the steps for the noise assumed."""
        return np.asarray(np.linalg.inv(self.hessian))

    @property
    def moves(self) -> np.ndarray:
        """M x 2, how far each mark is to be moved, px."""
        return self.steps[: 2 * self.coloured.scene.count].reshape(-1, 2)

    @property
    def growths(self) -> np.ndarray:
        """M, growth of each mark beyond its stencil, px."""
        return self.steps[2 * self.coloured.scene.count : -2]

    @property
    def softer(self) -> np.ndarray:
        """Variance (row, col) of the optics beyond the scene's, px^2."""
        return self.steps[-2:]


def known_steps(hessian: np.ndarray, gradient: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(normal matrix, steps) with what rounding alone may have made taken for unknown: nothing
    moves that way, and its doubt is without bounds. Marks all but upon each other are such."""
    scale = np.sqrt(hessian.diagonal())
    values, ways = np.linalg.eigh(hessian / np.outer(scale, scale))
    known = values > _ROUNDING
    if known.all():
        return hessian, np.linalg.solve(hessian, gradient)
    steps = (ways[:, known] / values[known]) @ (ways[:, known].T @ (gradient / scale)) / scale
    values = np.where(known, values, _UNKNOWN)
    return (ways * values) @ ways.T * np.outer(scale, scale), steps


def _flats(window: Window) -> np.ndarray:
    area = window.rows * window.cols
    pitch = max(_FLATS_PITCH, round(math.sqrt(area / _FLATS)))
    grid = np.zeros((window.rows, window.cols), bool)
    grid[pitch // 2 :: pitch, pitch // 2 :: pitch] = True
    return grid.ravel()


def _read(felt: np.ndarray) -> np.ndarray:
    """Pixels near outlines to be read. Of many a half is enough, as on a chessboard, of very many
    a quarter: rough edges limit what is known of large marks, not noise."""
    many = np.count_nonzero(felt)
    if many > _MANY_FELT:
        felt = felt.copy()
        felt[::2, ::2] = felt[1::2, 1::2] = False
        if many > 2 * _MANY_FELT:
            felt[1::2] = False
    return felt.ravel()


def _spread(bits: int) -> float:
    return _SOLID_SPREAD if bits.bit_count() < 2 else _OVERPRINT_SPREAD


def _colours_alone(
    shares: np.ndarray, light: np.ndarray, root: np.ndarray, prior: np.ndarray, hold: np.ndarray
) -> np.ndarray:
    """Colours S x C that fit best with the marks where they are, held near the palette's."""
    weighted = shares * root[:, None]
    normal = weighted @ weighted.transpose(0, 2, 1) + np.diag(hold)
    moment = weighted @ (light * root)[:, :, None] + (hold[:, None] * prior).T[:, :, None]
    return np.asarray(np.linalg.solve(normal, moment)[:, :, 0].T)
