"""Marks of exactly known place on paper of known light: the scene of the Cramer-Rao bound.

All exact: straight-edged marks along the grid by integrals of the error function, round ones
by the radial profile of a blurred disc (Rice's distribution), averaged over each pixel.
Levels are those of a linear 8-bit mono camera. Nothing here is regscan's.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import erf
from scipy.stats import ncx2

from regscan.job.layout import Bar, Cross, Disc, Ring, Shape, Square

PAPER = 225.0
SLOPE_OVER_PX = 100.0
Place = tuple[float, float]


@dataclass(frozen=True)
class Look:
    """How a mark looks: contrast, slope and noise in grey levels, lengths in px.

    edge_px   one sigma of the edge as it stands in the frame, the pixel's own area included.
    slope     rise of the paper's light per SLOPE_OVER_PX, along the image's diagonal.
    slope_of  "added" raises paper and ink alike, as stray light does; "light" multiplies.
    bits      8 rounds to whole levels, 16 to 1/257 of one.
    """

    edge_px: float = 1.2
    contrast: float = 195.0
    noise: float = 0.0
    slope: float = 0.0
    slope_of: str = "added"
    bits: int = 8

    @property
    def lens_px(self) -> float:
        """Blur before the pixel's square adds its 1/12 px^2."""
        return math.sqrt(self.edge_px**2 - 1.0 / 12.0)

    @property
    def noise_and_rounding(self) -> float:
        """Rounding is noise of 1/12 step^2."""
        return math.hypot(self.noise, 255.0 / (2**self.bits - 1) / math.sqrt(12.0))


def cover_of(
    size: tuple[int, int], place: Place, shape: Shape, px_mm: float, look: Look
) -> np.ndarray:
    """H x W share 0..1 of each pixel's light that the ink takes; place is (row, col) px.

    The mark lies untouched by any turn: circumferential down the rows, lateral along the
    columns.
    """

    def box(tall_mm: float, wide_mm: float) -> np.ndarray:
        tall = _stripe(size[0], place[0], tall_mm / px_mm, look.lens_px)
        return np.outer(tall, _stripe(size[1], place[1], wide_mm / px_mm, look.lens_px))

    def circle(diameter_mm: float) -> np.ndarray:
        return _circle(size, place, diameter_mm / px_mm / 2.0, look.lens_px)

    match shape:
        case Disc(diameter_mm=d):
            return circle(d)
        case Ring(diameter_mm=d, inner_diameter_mm=inner):
            return circle(d) - circle(inner)
        case Square(side_mm=a):
            return box(a, a)
        case Bar(length_mm=length, width_mm=width):
            return box(width, length)
        case Cross(size_mm=a, stroke_mm=stroke):
            return box(a, stroke) + box(stroke, a) - box(stroke, stroke)
    raise TypeError(shape)


def _stripe(length: int, place: float, width: float, blur: float) -> np.ndarray:
    """Blurred top hat of a width about place, averaged over each pixel, exactly."""
    borders = np.arange(length + 1) - 0.5 - place

    def risen(t: np.ndarray) -> np.ndarray:
        """Integral of the blurred step."""
        u = t / blur
        bell = np.exp(-0.5 * u**2) / math.sqrt(2 * math.pi)
        return blur * (u * 0.5 * (1 + erf(u / math.sqrt(2))) + bell)

    return np.diff(risen(borders + width / 2) - risen(borders - width / 2))


# Three-point Gauss-Legendre over a pixel: exact for what a blur of 0.7 px and more leaves.
_POINTS = np.array([-0.5, 0.0, 0.5]) * math.sqrt(0.6)
_WEIGHTS = np.array([5.0, 8.0, 5.0]) / 18.0


def _circle(size: tuple[int, int], place: Place, radius: float, blur: float) -> np.ndarray:
    """Blurred disc averaged over each pixel."""
    total = np.zeros(size)
    grid = np.linspace(0.0, radius + 9 * blur, 4001)
    profile = _radial(radius, blur, len(grid), float(grid[-1]))
    for row_step, row_weight in zip(_POINTS, _WEIGHTS, strict=True):
        rows = np.arange(size[0]) + row_step - place[0]
        for col_step, col_weight in zip(_POINTS, _WEIGHTS, strict=True):
            cols = np.arange(size[1]) + col_step - place[1]
            far = np.hypot(rows[:, None], cols[None, :])
            total += row_weight * col_weight * np.interp(far, grid, profile, right=0.0)
    return total


@lru_cache(maxsize=32)
def _radial(radius: float, blur: float, count: int, end: float) -> np.ndarray:
    """Light taken at a distance from the middle of a blurred disc.

    A point blurred by a Gaussian lands within `radius` of the middle with the probability
    that Rice's distribution gives; its square is a non-central chi-squared of two degrees.
    """
    distance = np.linspace(0.0, end, count)
    return np.asarray(ncx2.cdf((radius / blur) ** 2, 2, (distance / blur) ** 2))


def levels_of(cover: np.ndarray, look: Look) -> np.ndarray:
    """H x W grey levels before noise; the slope passes through nought in the middle."""
    height, width = cover.shape
    rows, cols = np.mgrid[:height, :width]
    along = ((rows - height / 2) + (cols - width / 2)) / math.sqrt(2.0)
    plane = look.slope * along / SLOPE_OVER_PX
    flat = PAPER - look.contrast * cover
    return flat * (1 + plane / PAPER) if look.slope_of == "light" else flat + plane


def exposed(levels: np.ndarray, look: Look, rng: np.random.Generator) -> np.ndarray:
    """H x W uint8 or uint16, with noise."""
    full = 2**look.bits - 1
    noisy = levels + rng.normal(0.0, look.noise, levels.shape) if look.noise else levels
    kind = np.uint8 if look.bits == 8 else np.uint16
    return np.clip(np.rint(noisy * (full / 255)), 0, full).astype(kind)


def disc_bound_px(radius_px: float, edge_px: float, noise_per_contrast: float) -> float:
    """Least sd per axis of any unbiased place of a disc of known shape, edge_px >= 1.

    Cramer-Rao: sd >= (s_n/A) sqrt(2 s / (sqrt(pi) R)).
    """
    return noise_per_contrast * math.sqrt(2 * edge_px / (math.sqrt(math.pi) * radius_px))


def bound_px(shape: Shape, px_mm: float, look: Look) -> Place:
    """The same bound per axis for any drawn mark, from how its picture changes with place."""
    side = round(_reach_mm(shape) / px_mm) + 24
    size, middle, step = (side, side), (side / 2, side / 2), 0.25
    bounds = []
    for axis in ((step, 0.0), (0.0, step)):
        there, back = (
            cover_of(size, (middle[0] + s * axis[0], middle[1] + s * axis[1]), shape, px_mm, look)
            for s in (1, -1)
        )
        steepness = ((there - back) / (2 * step)).ravel()
        bounds.append(look.noise_and_rounding / look.contrast / float(np.linalg.norm(steepness)))
    return bounds[0], bounds[1]


def _reach_mm(shape: Shape) -> float:
    """The mark's longest side."""
    names = ("diameter_mm", "side_mm", "length_mm", "size_mm")
    return max(float(getattr(shape, name, 0.0)) for name in names)


def size_px(shape: Shape, px_mm: float, paper_px: int = 50) -> tuple[int, int]:
    """A frame with room for the mark and paper around it; never square."""
    side = round(_reach_mm(shape) / px_mm) + paper_px
    return side, side + 6
