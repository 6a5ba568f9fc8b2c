"""Where each ink is, coarsely: a small picture of the frame and one cover map per ink.

The small picture is the frame shrunk by a whole factor. Its light is divided
by the light that falls on bare substrate nearby, so uneven light drops out, and
each small pixel's colour is looked up in a table made once from the palette.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache, reduce
from itertools import combinations

import cv2
import numpy as np

from regscan.camera.camera import Tone
from regscan.marks.clusters import Box
from regscan.marks.seeing.inks import Palette, line_distances
from regscan.marks.seeing.light import to_light

_LEVELS_COLOUR = 24  # steps per channel of the colour table
_LEVELS_MONO = 256
_COLOUR_SPREAD = 0.09  # colours this far apart (square-root light) are told apart with doubt
_OVERPRINT_SPREAD = 0.15  # overprints are only roughly predicted
_OVERPRINT_ODDS = 0.4  # how much rarer a colour of two inks is than one of one
_TOP = 1.1  # square-root light of the table's last level
_PAPER_PITCH = 3
_DARKEST = 0.002  # light of white: what a substrate is taken to send back at least
# Even light read both ways is within 2.5 %, over drawn frames of all kinds; in a streak it is a
# quarter and more apart.
_SAME_LIGHT = 0.05
_ANYWHERE = 0.01  # of the frame
_DARKEST_LOG, _BIN, _BINS = -6.0, 7.0 / 48.0, 48  # of light on bare substrate, logarithmic
_ALL = slice(None)
BARE = 0.12  # what lies within this of the substrate, in square-root light, is bare


@dataclass(frozen=True, slots=True)
class Coarse:
    """The shrunken frame, or a piece of it.

    factor   full pixels per small pixel, on both axes.
    top, left   small pixels of the frame above and beside it.
    colours  h x w intp, each small pixel's place in the table.
    table    K x colours float32, 0 bare .. 1 solid, how much of each ink a colour is.
    printed  h x w bool, anything at all printed there.
    paper    light of the bare substrate as a share of full scale over its colour: h x w.
    light    C of h x w float32, as a share of perfect white, evenly lit.
    """

    factor: int
    colours: np.ndarray
    table: np.ndarray
    printed: np.ndarray
    paper: np.ndarray
    light: tuple[np.ndarray, ...]
    top: int = 0
    left: int = 0

    def cover(self, ink: int, rows: slice = _ALL, cols: slice = _ALL) -> np.ndarray:
        """How much of one ink there is in the picture, or a piece of it: float32."""
        return np.asarray(self.table[ink][self.colours[rows, cols]])

    def full(self, row: float, col: float) -> tuple[float, float]:
        """Full-frame place of a small-picture place (pixel centres at integers)."""
        half = (self.factor - 1) / 2.0
        return (row + self.top) * self.factor + half, (col + self.left) * self.factor + half

    def small(self, row_px: float, col_px: float) -> tuple[float, float]:
        """Small-picture place of a full-frame place."""
        half = (self.factor - 1) / 2.0
        return (row_px - half) / self.factor - self.top, (col_px - half) / self.factor - self.left


class Separator:
    """Colour table of one palette; makes the coarse picture of frames."""

    def __init__(self, palette: Palette, tone: Tone) -> None:
        self.palette, self.tone = palette, tone
        self.channels = palette.inks.shape[1]
        self.levels = _LEVELS_COLOUR if self.channels == 3 else _LEVELS_MONO
        self.table = _cover_table(palette, self.levels)
        # All inks darker than the substrate: bare is what is brightest.
        self.bare_is_brightest = bool(
            (palette.inks.min(axis=1) <= palette.substrate.min() + 0.02).all()
        )

    def separate(
        self, planes: np.ndarray, factor: int, area: Box | None = None, local: float = 0.0
    ) -> Coarse:
        """The coarse picture of a frame's planes (H x W x C integers), or of an area of it.

        local   small pixels a mark is wide: light is then read close to the marks, where it
                may change as fast as in a streak. 0 reads it from all of the frame.
        """
        top, left, rows, cols = _cells(planes, factor, area)
        cut = planes[top * factor :, left * factor :][: rows * factor, : cols * factor]
        small = cv2.resize(cut, (cols, rows), interpolation=cv2.INTER_AREA)
        codes = cv2.split(small) if self.channels > 1 else [small]
        full_scale = float(np.iinfo(planes.dtype).max)
        light = [to_light(plane, self.tone, full_scale) for plane in codes]
        paper = self._paper(light, local)
        index = np.zeros((rows, cols), np.float32)  # holds whole numbers this small exactly
        printed = np.zeros((rows, cols), bool)
        even = tuple(plane / paper for plane in light)
        for plane, bare in zip(even, self.palette.substrate, strict=True):
            root = cv2.sqrt(plane)
            printed |= np.abs(root - math.sqrt(bare)) > BARE
            level = np.minimum(root * ((self.levels - 1) / _TOP) + 0.5, self.levels - 1)
            index = index * self.levels + np.floor(level)
        colours = index.astype(np.intp)
        return Coarse(factor, colours, self.table, printed, paper, even, top, left)

    def light_changes_fast(self, coarse: Coarse, local: float) -> bool:
        """Whether light read close to the marks, as above, is another than that of the coarse
        picture, which was read from all of the frame."""
        near = self._paper([plane * coarse.paper for plane in coarse.light], local)
        apart = np.abs(np.log(near / coarse.paper)) > _SAME_LIGHT
        return float(apart.mean()) > _ANYWHERE

    def _paper(self, light: list[np.ndarray], local: float) -> np.ndarray:
        """Light on bare substrate over the substrate's colour, smooth over the frame.

        Read from every third pixel: light is smooth, and the eye for it can be coarse.
        """
        shares = [
            plane[::_PAPER_PITCH, ::_PAPER_PITCH] / max(float(bare), _DARKEST)
            for plane, bare in zip(light, self.palette.substrate, strict=True)
        ]
        level, top = reduce(np.minimum, shares), reduce(np.maximum, shares)
        rows, cols = light[0].shape
        grey = (level > 0.5 * top) & (level > 1e-3)
        if not grey.any():
            return np.full((rows, cols), max(float(level.max()), 1e-3), np.float32)
        field = _closed(level, local) if local else self._bare_field(level, grey)
        return np.asarray(cv2.resize(field, (cols, rows), interpolation=cv2.INTER_LINEAR))

    def _bare_field(self, level: np.ndarray, grey: np.ndarray) -> np.ndarray:
        """Smooth level of the bare substrate; pixels far from it are left out, twice."""
        logs = np.log(np.maximum(level, 1e-6))
        middle = self._bare_level(logs[grey])
        field = np.full(level.shape, np.exp(middle), np.float32)
        size = (max(level.shape) // 4 * 2 + 1,) * 2
        for spread in (0.45, 0.12):
            bare = grey & (np.abs(logs - np.log(field)) < spread)
            weight = cv2.blur(bare.astype(np.float32), size, borderType=cv2.BORDER_ISOLATED)
            total = cv2.blur(
                (level * bare).astype(np.float32), size, borderType=cv2.BORDER_ISOLATED
            )
            field = np.where(weight > 0.02, total / np.maximum(weight, 1e-6), field)
        return np.asarray(field, np.float32)

    def _bare_level(self, levels: np.ndarray) -> float:
        """The log level of bare substrate: the brightest sizeable peak, or the largest."""
        bins = (levels - _DARKEST_LOG) / _BIN  # np.histogram takes three times as long
        told = bins[(bins >= 0.0) & (bins < _BINS)].astype(int)
        counts = np.convolve(np.bincount(told, minlength=_BINS), [0.5, 1.0, 0.5], "same")
        sizeable = np.flatnonzero(counts >= 0.1 * counts.max())
        peak = int(counts.argmax())
        if self.bare_is_brightest:
            # Climb down from the bright end to the first local peak.
            peak = next(int(k) for k in sizeable[::-1] if k == 0 or counts[k] >= counts[k - 1])
        return float(_DARKEST_LOG + (peak + 0.5) * _BIN)


def _closed(level: np.ndarray, size: float) -> np.ndarray:
    """The level with everything darker and smaller than about twice `size` filled in."""
    side = 2 * math.ceil(size / _PAPER_PITCH) + 3
    whole = np.ones((side, side), np.uint8)
    closed = cv2.morphologyEx(level.astype(np.float32), cv2.MORPH_CLOSE, whole)
    return np.maximum(cv2.blur(closed, (side, side)), 1e-4)


def _cells(planes: np.ndarray, factor: int, area: Box | None) -> tuple[int, int, int, int]:
    """Top, left, rows and cols, in small pixels, of an area; those of the whole frame are
    the same cells, so that nothing depends on where an area begins."""
    limits = planes.shape[0] // factor, planes.shape[1] // factor
    if area is None:
        return 0, 0, *limits
    low, count = [], []
    for middle, half, limit in (
        (area.row, area.half_rows, limits[0]),
        (area.col, area.half_cols, limits[1]),
    ):
        first = int(min(max((middle - half) // factor, 0), limit - 1))
        low.append(first)
        count.append(int(min(max((middle + half) // factor + 1, first + 1), limit)) - first)
    return low[0], low[1], count[0], count[1]


@lru_cache(maxsize=16)  # all cameras and edges that see the same inks share one
def _cover_table(palette: Palette, levels: int) -> np.ndarray:
    """K x levels^C float32: how surely and how much of each ink, for every quantised colour."""
    channels = palette.inks.shape[1]
    axis = (np.arange(levels) * _TOP / (levels - 1)) ** 2
    grid = np.stack(np.meshgrid(*[axis] * channels, indexing="ij"), axis=-1).reshape(-1, channels)
    distance, cover = line_distances(grid, palette)
    alone = np.exp(-0.5 * (distance / _COLOUR_SPREAD) ** 2)
    if channels == 1:
        # One channel cannot tell inks apart: anything as dark as the ink may be it.
        return np.asarray((np.clip(cover, 0.0, 1.0) * alone).T, np.float32)
    total = alone.sum(axis=1) + 1e-3
    found = np.clip(cover, 0.0, 1.0) * alone
    root = np.sqrt(grid)
    for bits, inks in _overprints(len(palette.names)):
        gap = np.linalg.norm(root - np.sqrt(np.clip(palette.mix(bits), 0.0, None)), axis=1)
        both = _OVERPRINT_ODDS ** (len(inks) - 1) * np.exp(-0.5 * (gap / _OVERPRINT_SPREAD) ** 2)
        total += both
        found[:, inks] += both[:, None]
    # How sure the colour is of anything at all, times the share of it that has this ink.
    sure = np.minimum(1.0, np.exp(-0.5 * (distance.min(axis=1) / _COLOUR_SPREAD) ** 2) + total)
    covers = found / total[:, None] * sure[:, None]
    for k in np.flatnonzero(_like_substrate(palette)):
        # Where it lies on nothing it cannot be seen; on other print it shows as its colour does.
        gap = np.linalg.norm(root - np.sqrt(np.clip(palette.inks[k], 0.0, None)), axis=1)
        covers[:, k] = np.exp(-0.5 * (gap / _COLOUR_SPREAD) ** 2)
    return np.asarray(covers.T, np.float32)


def _like_substrate(palette: Palette) -> np.ndarray:
    """K bool, inks that look like the bare substrate, as black does before a dark backing."""
    apart = np.sqrt(np.clip(palette.inks, 0.0, None)) - np.sqrt(palette.substrate)
    return np.asarray(np.abs(apart).max(axis=1) < BARE)


def _overprints(inks: int) -> Iterator[tuple[int, list[int]]]:
    """(bits, ink numbers) of every pair and triple of inks."""
    for size in (2, 3):
        for group in combinations(range(inks), size):
            yield sum(1 << k for k in group), list(group)
