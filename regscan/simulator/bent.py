"""Bent: where a camera's lens puts things, for drawing. Places as complex numbers, row + 1j col.

The lens's numbers are those of regscan.camera.lens, whose docstrings say what each
means; the mathematics is the simulator's own, so that measuring what it drew is a test.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from regscan.camera.camera import Camera
from regscan.camera.lens import LateralColour, Lens

Places = np.ndarray  # complex

_STEPS = 30
_NEAR_PX = 1e-9


def web_places(camera: Camera, seen: Places) -> Places:
    """Web places (circumferential + 1j lateral, mm) of what is seen at these places, px."""
    straight = straighten(camera.lens, seen) if camera.lens else seen
    (a, b), (c, d) = camera.matrix
    return np.asarray((a + 1j * c) * straight.real + (b + 1j * d) * straight.imag)


def seen_at(
    camera: Camera, origin_px: tuple[float, float], circumferential_mm: float, lateral_mm: float
) -> tuple[float, float]:
    """(row, col) px where a web place is seen, given in mm from what is seen at origin_px."""
    rows, cols = camera.step_to_pixels(circumferential_mm, lateral_mm)
    if camera.lens is None:
        return origin_px[0] + rows, origin_px[1] + cols
    lens, origin = camera.lens, np.array([complex(*origin_px)])
    target = straighten(lens, origin) + complex(rows, cols)
    (place,) = _solved(lambda place: straighten(lens, place) - target, origin)
    return float(place.real), float(place.imag)


def straighten(lens: Lens, seen: Places) -> Places:
    """Where a camera without this lens, keystone and shear would see it."""
    corner = abs(complex(lens.rows_px, lens.cols_px)) / 2.0
    centre = complex(*lens.centre_px)
    z = (np.asarray(seen) - centre) / corner
    far = np.abs(z) ** 2
    powers = (bend * far ** (n + 1) for n, bend in enumerate(lens.radial_px))
    pull = complex(*lens.tangential_px)
    z = z + (z * sum(powers, start=0.0 * far) + 2.0 * z * _dot(pull, z) + pull * far) / corner
    z = z / (1.0 - _dot(complex(*lens.keystone_px), z) / corner)
    return np.asarray(centre + corner * z + lens.shear_px * z.imag)


def looked_up(lens: Lens, colour: LateralColour, places: Places) -> Places:
    """Which place of green's picture a channel shows at each of these places."""

    def miss(green: Places) -> Places:
        return np.asarray(green + _shift(lens, colour, green) - places)

    return _solved(miss, places)


def within(camera: Camera, top: int, left: int) -> Camera:
    """The camera for places counted from a corner of a window of its frame."""
    if camera.lens is None:
        return camera
    row, col = camera.lens.centre_px
    return replace(camera, lens=replace(camera.lens, centre_px=(row - top, col - left)))


def parted(light: np.ndarray, lens: Lens | None, corner: tuple[int, int], fine: int) -> np.ndarray:
    """A fine picture (fine squares per pixel, h x w x 3) with red and blue where the lens has them.

    corner   its first row and column in the frame, whole pixels.
    """
    if lens is None or not farthest_px(lens):
        return light
    from scipy.ndimage import map_coordinates

    top, left = corner
    rows, cols = ((np.arange(n) + 0.5) / fine - 0.5 for n in light.shape[:2])
    places = (rows + top)[:, None] + 1j * (cols + left)[None]
    for channel, colour in ((0, lens.red), (2, lens.blue)):
        green = looked_up(lens, colour, places)
        squares = [(green.real - top + 0.5) * fine - 0.5, (green.imag - left + 0.5) * fine - 0.5]
        light[..., channel] = map_coordinates(light[..., channel], squares, order=3, mode="nearest")
    return light


def farthest_px(lens: Lens | None) -> float:
    """The furthest that red or blue is carried anywhere in the frame, px."""
    if lens is None:
        return 0.0
    edge = np.linspace(0.0, 1.0, 9)
    around = (edge[:, None] * lens.rows_px + 1j * edge[None] * lens.cols_px).ravel()
    return max(float(np.abs(_shift(lens, c, around)).max()) for c in (lens.red, lens.blue))


def _shift(lens: Lens, colour: LateralColour, green: Places) -> Places:
    z = (green - complex(*lens.centre_px)) / (abs(complex(lens.rows_px, lens.cols_px)) / 2.0)
    outward = colour.scale_px + colour.cubic_px * np.abs(z) ** 2
    return np.asarray(complex(colour.row_px, colour.col_px) + outward * z)


def _dot(one: complex, other: Places) -> Places:
    return np.asarray((np.conj(one) * other).real)


def _solved(miss: Callable[[Places], Places], start: Places) -> Places:
    """Places at which nothing is missed: Newton's steps with slopes from small ones."""
    place = np.array(start, dtype=complex)
    for _ in range(_STEPS):
        off = miss(place)
        if not np.any(np.abs(off) > _NEAR_PX):
            break
        down, right = miss(place + 0.5) - miss(place - 0.5), miss(place + 0.5j) - miss(place - 0.5j)
        turn = down.real * right.imag - down.imag * right.real
        place -= (off.real * right.imag - off.imag * right.real) / turn
        place -= 1j * (down.real * off.imag - down.imag * off.real) / turn
    return place
