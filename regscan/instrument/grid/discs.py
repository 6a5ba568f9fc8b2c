"""Discs: the centre of every dot to a small part of a pixel, by the fit that marks get.

A dot askew to the camera is an ellipse; its template is that ellipse. All dots of a frame
are as soft as each other, so softness is found from a few of them first.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.spatial import cKDTree

from regscan.camera.camera import Camera
from regscan.instrument.grid.blobs import Blobs
from regscan.job.layout import Polygon
from regscan.marks.fitting.fit import Fit, Start, fit_marks
from regscan.marks.fitting.reading import Patch
from regscan.marks.shape.template import Appearance, Template, template

PX = Camera(1.0, 1.0)  # one mm is one pixel: shapes are given as they look
_CORNERS = 72
_RUNG = 0.06  # ellipses whose axes differ by less share a template
_SAMPLE = 15  # dots that softness is found from
_LOOKS = 5
_AT_ONCE = 16  # dots fitted side by side: what is read of more would not stay near at hand
_MISFIT = 0.2  # of the contrast: dust on a dot, a scratch through it
_LEAST_USED = 0.5


@dataclass(frozen=True)
class Discs:
    """N dots as one channel shows them.

    places   N x 2 (row, col) px; NaN for a dot that could not be fitted.
    edge_px  softness of their edges, one sigma.
    """

    places: np.ndarray
    edge_px: float


@dataclass(frozen=True)
class _Dot:
    """start  (row, col) px.   ellipse  its looks, rounded.   room_px  to the nearest other."""

    start: np.ndarray
    ellipse: tuple[float, ...]
    room_px: float


def place_discs(light: np.ndarray, blobs: Blobs) -> Discs:
    """Fit every dot in one channel.

    light   H x W float32.   blobs   where the dots are to a pixel, and how large.
    """
    parts = zip(blobs.places, _smooth(blobs), _rooms(blobs.places), strict=True)
    dots = [_Dot(place, ellipse, float(room)) for place, ellipse, room in parts]
    sample = np.linspace(0, len(dots) - 1, min(_SAMPLE, len(dots))).astype(int)
    frame = _Frame(light)
    look = _look(frame, [dots[k] for k in sample])
    places = np.full(blobs.places.shape, np.nan)
    for number, fit in enumerate(frame.fits(dots, look)):
        if fit is not None and _good(fit):
            places[number] = fit.row_px, fit.col_px
    return Discs(places, math.sqrt(look.row_px * look.col_px))


def _rooms(places: np.ndarray) -> np.ndarray:
    """Distance from each dot to the nearest; beside a missing one as far as for dots nearby."""
    near = min(len(places), 6)
    far, others = cKDTree(places).query(places, k=near)
    nearest = far[:, 1]
    return np.minimum(nearest, 1.1 * np.median(nearest[others], axis=1))


@dataclass(frozen=True)
class _Frame:
    light: np.ndarray

    def fits(self, dots: list[_Dot], look: Appearance) -> list[Fit | None]:
        """The fits of dots; None where nothing like one is there."""
        fits: list[Fit | None] = []
        for first in range(0, len(dots), _AT_ONCE):
            fits += fit_marks([self._start(dot, look) for dot in dots[first : first + _AT_ONCE]])
        return fits

    def _start(self, dot: _Dot, look: Appearance) -> Start:
        shape, start = _template(dot.ellipse, look), dot.start
        low = [int(max(round(p) - h - 3, 0)) for p, h in zip(start, _half(shape), strict=True)]
        high = [int(round(p) + h + 4) for p, h in zip(start, _half(shape), strict=True)]
        light = self.light[low[0] : high[0], low[1] : high[1]]
        rows, cols = (np.arange(n) + at for n, at in zip(light.shape, low, strict=True))
        far = np.hypot(rows[:, None] - start[0], cols[None] - start[1])
        # What lies nearer to the neighbouring dots than their own soft rim is left out.
        room = dot.room_px - max(shape.reach_rows, shape.reach_cols)
        usable = far < room - 2.0 * max(look.row_px, look.col_px)
        patch = Patch(np.ascontiguousarray(light), usable.astype(np.float32), low[0], low[1])
        return Start(patch, shape, (float(start[0]), float(start[1])))


def _half(shape: Template) -> tuple[int, int]:
    return shape.half_rows, shape.half_cols


def _good(fit: Fit) -> bool:
    return fit.converged and fit.misfit < _MISFIT and fit.used_share > _LEAST_USED


def _look(frame: _Frame, sample: list[_Dot]) -> Appearance:
    """Softness and growth that the dots of a sample agree on."""
    look = Appearance(1.1, 1.1)
    for _ in range(_LOOKS):
        fits = [fit for fit in frame.fits(sample, look) if fit]
        if not fits:
            return look
        row, col, growth = np.median(
            [(f.blur_row_var, f.blur_col_var, f.growth_px) for f in fits], axis=0
        )
        seen = Appearance(
            _width(look.row_px, row), _width(look.col_px, col), look.growth_px + _kept(growth)
        ).rounded()
        if seen == look:
            break
        look = seen
    return look


def _width(own: float, extra: float) -> float:
    return math.sqrt(max(own**2 + float(np.clip(extra, -0.6 * own**2, 3.0 * own**2)), 0.16))


def _kept(growth: float) -> float:
    return float(np.clip(growth, -1.5, 1.5))


def _smooth(blobs: Blobs) -> list[tuple[float, ...]]:
    """(size, stretch, lean) of each dot's ellipse, as even over the frame as a picture askew has
    them; rounded, so that few templates are needed."""
    rows, cols, both = blobs.spread.T
    area = np.sqrt(np.maximum(rows * cols - both**2, 1e-6))
    values = np.stack([np.log(area) / 2.0, np.log(rows / cols) / 2.0, both / area], axis=1)
    middle = blobs.places.mean(axis=0)
    design = np.column_stack([np.ones(len(values)), (blobs.places - middle) / 500.0])
    if len(values) >= 12:
        weight = np.ones(values.shape)
        for _ in range(5):
            found = np.stack(
                [
                    np.linalg.lstsq(design * w[:, None], v * w, rcond=None)[0]
                    for v, w in zip(values.T, weight.T, strict=True)
                ],
                axis=1,
            )
            off = np.abs(values - design @ found)
            weight = 1.0 / np.sqrt(1.0 + (off / (2.0 * np.median(off, axis=0) + 1e-6)) ** 2)
        values = design @ found
    return [tuple(float(v) for v in row) for row in np.rint(values / _RUNG) * _RUNG]


def _template(ellipse: tuple[float, ...], look: Appearance) -> Template:
    return template(_polygon(ellipse), PX, look)


@lru_cache(maxsize=256)
def _polygon(ellipse: tuple[float, ...]) -> Polygon:
    """The ellipse whose pixels spread by exp(2 size), stretched down rows and leaning."""
    size, stretch, lean = ellipse
    area = math.exp(2.0 * size)
    rows, cols = area * math.exp(stretch), area * math.exp(-stretch)
    both = area * lean
    grow = math.sqrt((area**2 + both**2) / (rows * cols))  # keeps the area as it was
    spread = np.array([[rows * grow, both], [both, cols * grow]])
    angles = np.linspace(0.0, 2.0 * math.pi, _CORNERS, endpoint=False)
    outline = 2.0 * np.linalg.cholesky(spread) @ np.stack([np.cos(angles), np.sin(angles)])
    step = 2.0 * math.pi / _CORNERS
    outline = outline * math.sqrt(step / math.sin(step))  # the polygon has the ellipse's area
    return Polygon(tuple((float(row), float(col)) for row, col in outline.T))
