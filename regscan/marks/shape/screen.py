"""The screen of a tint: how its dots lie inside a mark, and what they look like.

A halftone's dots repeat on a lattice that knows nothing of the mark's outline. Well inside
the mark the picture is therefore a sum of waves whose frequencies are whole multiples of two,
and least squares tells those two and the size and phase of every wave. Where the outline
cuts the lattice, the same waves say which ink there would be without the cut.
"""

import math
from dataclasses import dataclass

import numpy as np

from regscan.camera.camera import Camera
from regscan.marks.shape.planes import PHASES, Softness

_LEAST_PX = 3.5  # of a period: finer dots are no picture of dots
_FEWEST = 4.0  # periods across the mark: fewer are no pattern
_EXPLAINED = 0.7  # of the variance inside: holes, specks and a second print are no lattice
# Of it, at every step: dots' two waves make 0.77 or more as the spectrum shows them, less what is
# noise; other prints' make 0.16, and steps then lead to long waves that take up any shading.
_AT_ONCE = 0.4
_KEPT = 0.1  # of a wave that softness and pixels leave: less is lost in noise
_HIGHEST = 6  # multiple of the two waves
_STEPS = 4  # of Gauss-Newton at most, with the lowest waves and again with all
_STILL = 0.001  # turns that a step changes across the mark: the next would change a hundredth of it
_MOST_PIXELS = 4000  # of the inside that are read
_SOLID = 90.0  # per cent of the inside that show less ink than its solid
_FINE = 256  # cells of the spectrum in which the strongest wave is looked for
_STEEPER = 1.5  # dots are ink or none, and steeper than the sum of the waves that are seen
_TURN = 2.0 * math.pi


@dataclass(frozen=True)
class Screen:
    """Dots on a lattice in the frame.

    waves    2 x 2, the lattice's two waves (rows, columns), cycles per px.
    orders   K x 2, how many of each make up a wave; the first is none of either.
    sizes    2 x K, of cosine and sine: ink as the camera shows it, 1 for solid.
    place    (row, col) px of the frame that phases count from.
    """

    waves: np.ndarray
    orders: np.ndarray
    sizes: np.ndarray
    place: tuple[float, float]

    def ink_about(
        self, centre: tuple[float, float], samples: tuple[int, int], softness: Softness
    ) -> np.ndarray:
        """Ink at the samples of a template about a centre (px of the frame), as it lies on the
        web: what a lens of that softness and the pixels took from every wave is given back."""
        rows, cols = (
            (np.arange(count) + 0.5 - count / 2.0) / PHASES + middle - start
            for count, middle, start in zip(samples, centre, self.place, strict=True)
        )
        waves = self.orders @ self.waves
        sizes = (self.sizes[0] - 1j * self.sizes[1]) / _left_of(waves, softness)
        down = sizes * np.exp(1j * _TURN * rows[:, None] * waves[:, 0])
        along = np.exp(1j * _TURN * waves[:, 1, None] * cols)
        # The real part alone, in single precision: a quarter of the work.
        down, along = np.hstack([down.real, -down.imag]), np.vstack([along.real, along.imag])
        ink = down.astype(np.float32) @ along.astype(np.float32)
        # Waves too fine to be seen are missing: their ripples must not pass for edges.
        return np.asarray(np.clip(0.5 + _STEEPER * (ink - 0.5), 0.0, 1.0))


def screen_of(
    ink: np.ndarray,
    inside: np.ndarray,
    place: tuple[float, float],
    camera: Camera,
    softness: Softness,
) -> Screen | None:
    """The screen inside a mark; None where what is seen there is no lattice of dots.

    ink      H x W, light less the paper's, in any unit.
    inside   H x W bool, pixels that the outline's softness does not reach.
    place    (row, col) px of the frame, of the top-left pixel.
    """
    rows, cols = np.nonzero(inside)
    if rows.size == 0 or min(np.ptp(rows), np.ptp(cols)) < _FEWEST * _LEAST_PX:
        return None
    # Some of them, in an order that has no lattice of its own.
    some = np.random.default_rng(0).permutation(rows.size)[:_MOST_PIXELS]
    at = np.stack([rows[some], cols[some]]).astype(float)
    seen = ink[rows[some], cols[some]].astype(np.float64)
    waves, whole = _strongest(ink, inside, camera), float(seen.var())
    across, left = np.ptp(at, axis=1), math.inf
    for highest in (1, _HIGHEST):
        orders = _orders(waves, softness, highest)
        for _ in range(_STEPS):
            sizes, change, left = _solved(at, seen, waves, orders)
            if not left < (1.0 - _AT_ONCE) * whole:
                return None
            waves = waves + change
            if float((np.abs(change) @ across).max()) < _STILL:
                break
    if not left < (1.0 - _EXPLAINED) * whole:
        return None
    parts = _parts(at, waves, orders)
    solid = float(np.percentile(parts[0].T @ sizes[0] + parts[1].T @ sizes[1], _SOLID))
    return Screen(waves, orders, sizes / solid, place) if solid > 0.0 else None


def _strongest(ink: np.ndarray, inside: np.ndarray, camera: Camera) -> np.ndarray:
    """The strongest wave inside the mark, and the one across it on the web: 2 x 2."""
    rows, cols = np.nonzero(inside)
    low, high = (rows.min(), cols.min()), (rows.max() + 1, cols.max() + 1)
    part = slice(low[0], high[0]), slice(low[1], high[1])
    window = inside[part] * np.outer(*(np.hanning(n + 2)[1:-1] for n in inside[part].shape))
    even = window * (ink[part] - np.average(ink[part], weights=window + 1e-12))
    power = np.abs(np.fft.fft2(even, (_FINE, _FINE))) ** 2
    cycles = np.fft.fftfreq(_FINE)
    per_px = np.hypot(cycles[:, None], cycles[None])
    size = min(high[0] - low[0], high[1] - low[1])
    power[(per_px < _FEWEST / size) | (per_px > 1.0 / _LEAST_PX)] = 0.0
    peak = np.unravel_index(int(power.argmax()), power.shape)
    first = np.array([cycles[peak[0]], cycles[peak[1]]])
    # Screens are square on the web; waves go over to it by the inverse transpose.
    matrix = np.array(camera.matrix)
    on_web = np.linalg.solve(matrix.T, first)
    return np.stack([first, matrix.T @ np.array([-on_web[1], on_web[0]])])


def _orders(waves: np.ndarray, softness: Softness, highest: int) -> np.ndarray:
    """All multiples of two waves that still show, of each and its opposite only one: K x 2."""
    axis = np.arange(-highest, highest + 1)
    both = np.stack(np.meshgrid(axis, axis, indexing="ij"), axis=-1).reshape(-1, 2)
    half = both[(both[:, 0] > 0) | ((both[:, 0] == 0) & (both[:, 1] >= 0))]
    shown = _left_of(half @ waves, softness) > _KEPT
    fine = np.abs(half @ waves).max(axis=1) < 0.5
    none = (half == 0).all(axis=1)
    return np.concatenate([half[none], half[shown & fine & ~none]])


def _left_of(waves: np.ndarray, softness: Softness) -> np.ndarray:
    """What a Gaussian softness and the averaging over a pixel leave of waves (K x 2): K."""
    soft = np.exp(-0.5 * ((_TURN * waves * np.array(softness)) ** 2).sum(axis=1))
    return np.asarray(soft * np.sinc(waves).prod(axis=1))


def _parts(at: np.ndarray, waves: np.ndarray, orders: np.ndarray) -> np.ndarray:
    """2 x K x N, cosine and sine of every wave at the places (2 x N)."""
    most, turned = int(np.abs(orders).max()), np.exp(1j * _TURN * (waves @ at))
    # Whole multiples of two waves: products of their powers, no further cosines.
    powers = np.cumprod(np.broadcast_to(turned[:, None], (2, most, at.shape[1])), axis=1)
    powers = np.hstack([powers[:, ::-1].conj(), np.ones((2, 1, at.shape[1])), powers])
    both = powers[0, most + orders[:, 0]] * powers[1, most + orders[:, 1]]
    return np.stack([both.real, both.imag])


def _solved(
    at: np.ndarray, seen: np.ndarray, waves: np.ndarray, orders: np.ndarray
) -> tuple[np.ndarray, np.ndarray, float]:
    """Sizes (2 x K) of the waves that explain what is seen (N), how the two waves (2 x 2)
    should change for them, and the variance left. One Gauss-Newton step."""
    cosines, sines = _parts(at, waves, orders)
    design = np.concatenate([cosines, sines[1:]])  # the first sine is nought
    sizes = np.zeros((2, len(orders)))
    inverse = np.linalg.pinv(design @ design.T, rcond=1e-9, hermitian=True)
    solved = inverse @ (design @ seen)
    sizes[0], sizes[1, 1:] = np.split(solved, [len(orders)])
    left = seen - solved @ design
    bent = sizes[1][:, None] * cosines - sizes[0][:, None] * sines
    slopes = np.stack(
        [_TURN * (orders[:, wave] @ bent) * at[axis] for wave in (0, 1) for axis in (0, 1)]
    )
    # What the sizes can take up is no reason to change a wave.
    free = slopes - (slopes @ design.T) @ inverse @ design
    change = np.linalg.lstsq(free @ free.T, free @ left, rcond=1e-9)[0]
    return sizes, change.reshape(2, 2), float(left.var())
