"""Template: one mark shape as the camera would see it, at quarter-pixel phases.

A mark's picture is its outline, softened by the optics (a Gaussian, one width
per image axis) and averaged over each pixel. For a phase (the centre's place
within its pixel, in quarter pixels) the template holds the picture and what it
changes by when the mark is shifted, softened or grown, each at a chosen set of
places: every pixel along the edge, where place is read from, and means of
3 x 3 pixels on the flats, where the light is read from. The fit is then linear; see
docs/how/centre.md for why a quarter pixel is fine enough.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np

from regscan.camera.camera import Camera
from regscan.job.layout import Shape
from regscan.marks.outline import Outline, outline_mm
from regscan.marks.raster import coverage

PHASES = 4  # samples per pixel in the template
TILE = 3  # flats are read as means of 3 x 3 pixels
_NEARLY = 1.25  # widths of the two axes closer than this count as one
_SECTOR_PX = 14  # outline per sector: longer than what ties the errors of neighbours
_EDGE_SHARE = 0.012  # a pixel belongs to the edge if 1 px of shift changes it by this


@dataclass(frozen=True, slots=True)
class Blur:
    """Gaussian width of the optics on each image axis, px (one sigma)."""

    row_px: float
    col_px: float

    def rounded(self) -> "Blur":
        """The nearest width on a ladder of 15 % rungs, the same for both axes when they
        are nearly alike: the fit finds the rest, and templates are costly to make."""
        if max(self.row_px, self.col_px) < _NEARLY * min(self.row_px, self.col_px):
            both = _rung(math.sqrt(self.row_px * self.col_px))
            return Blur(both, both)
        return Blur(_rung(self.row_px), _rung(self.col_px))


def _rung(width_px: float) -> float:
    clipped = min(max(width_px, 0.4), 12.0)
    return round(1.15 ** round(math.log(clipped, 1.15)), 4)


def outline_px(shape: Shape, camera: Camera) -> Outline:
    """A shape's outline as (row, col) px about its centre, as this camera sees it."""
    inverse = np.linalg.inv(np.array(camera.matrix))
    return tuple(polygon @ inverse.T for polygon in outline_mm(shape))


class Template:
    """One shape, camera and blur. Arrays are float64; N is the number of chosen pixels.

    area_px                printed area; area_per_growth_px is its change per px of growth.
    reach_rows, reach_cols how far the outline reaches from its centre, px.
    half_rows, half_cols   the patch holds 2 * half + 1 pixels on each axis.
    rows, cols             N places in the patch, relative to its middle pixel.
    tile                   N bool, True where the place stands for TILE x TILE pixels.
    softening              2 x 2: relative change of the shift planes (row, col) per px^2 of
                           blur variance (row, col), as a fit of those planes sees it.
    room                   N, pixels that must lie around the place within the frame.
    edge                   N bool, True along the printed edge.
    sectors                slices of the N places, one per direction from the centre.
    inside                 N bool, True where there is more ink than paper.
    """

    def __init__(self, shape: Shape, camera: Camera, blur: Blur) -> None:
        polygons = outline_px(shape, camera)
        corners = np.concatenate(polygons)
        reach = np.abs(corners).max(axis=0)
        margin = 3.0 + 2.5 * max(blur.row_px, blur.col_px)
        # Outside the mark, paper as wide as a third of it, to know the light on all sides.
        self.half_rows, self.half_cols = (math.ceil(r + max(margin, 0.7 * r)) for r in reach)
        self.reach_rows, self.reach_cols = float(reach[0]), float(reach[1])
        self.shape_px = (2 * self.half_rows + 1, 2 * self.half_cols + 1)
        ink, centre = _fill(polygons, self.half_rows, self.half_cols)
        self._centre = centre
        self.area_px = float(ink.sum()) / PHASES**2
        self._planes = _pixel_planes(ink, blur)
        self.area_per_growth_px = float(self._phase_planes((2, 2))[5].sum())
        self._choose_pixels()
        self._designs: dict[tuple[int, int], np.ndarray] = {}

    def _phase_planes(self, phase: tuple[int, int]) -> np.ndarray:
        rows, cols = self.shape_px
        row, col = phase
        return self._planes[:, row::PHASES, col::PHASES][:, :rows, :cols]

    def _choose_pixels(self) -> None:
        planes = self._phase_planes((2, 2))
        slope = np.hypot(planes[1], planes[2])
        edge = cv2.dilate((slope > _EDGE_SHARE).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
        tile = np.zeros_like(edge)
        half = TILE // 2
        middle = slice(half, None, TILE)
        # A tile counts as flat where none of its pixels is edge.
        near = cv2.dilate(edge.astype(np.uint8), np.ones((TILE, TILE), np.uint8)) > 0
        tile[middle, middle] = ~near[middle, middle]
        covered = cv2.dilate(tile.astype(np.uint8), np.ones((TILE, TILE), np.uint8)) > 0
        chosen = tile | ~covered
        index = np.flatnonzero(chosen)
        rows, cols = np.divmod(index, chosen.shape[1])
        order, self.sectors = _by_sector(
            rows - self.half_rows, cols - self.half_cols, self.area_per_growth_px
        )
        rows, cols = rows[order], cols[order]
        self._flat_index = index[order]
        self.rows, self.cols = rows - self.half_rows, cols - self.half_cols
        self.tile = tile[rows, cols]
        self.room = np.where(self.tile, half, 0)
        self.edge = edge[rows, cols]
        self.softening = _softening(planes)
        self.inside = planes[0][rows, cols] > 0.5

    def phase_of(self, row_px: float, col_px: float) -> tuple[tuple[int, int], int, int]:
        """The nearest phase of a centre, and the patch's middle pixel (row, col)."""
        middle, phase = [], []
        for place, centre in zip((row_px, col_px), self._centre, strict=True):
            # Phase p puts the centre `centre - p / PHASES` px after the middle pixel's centre.
            quarter = round((centre - place) * PHASES)
            phase.append(quarter % PHASES)
            middle.append(-((quarter - quarter % PHASES) // PHASES))
        return (phase[0], phase[1]), middle[0], middle[1]

    def centre_of(self, phase: tuple[int, int], row: int, col: int) -> tuple[float, float]:
        """The centre (row, col) px that a phase stands for with the middle pixel given."""
        return (
            row + self._centre[0] - phase[0] / PHASES,
            col + self._centre[1] - phase[1] / PHASES,
        )

    def design(self, phase: tuple[int, int]) -> np.ndarray:
        """N x 11, the model's parts at every place.

        0..2   light of the paper: level, slope down the rows, slope along the columns
               (slopes per half patch).
        3      ink.
        4, 5   its change per px of shift (row, col).
        6, 7   its change per px^2 of blur variance (row, col).
        8      its change per px of growth all round.
        9, 10  ink times the two slopes: light may fall off differently on ink.
        """
        if phase not in self._designs:
            planes = self._phase_planes(phase).reshape(6, -1)[:, self._flat_index]
            row, col = self.rows / self.half_rows, self.cols / self.half_cols
            parts = [np.ones_like(row), row, col, *planes, planes[0] * row, planes[0] * col]
            self._designs[phase] = np.ascontiguousarray(np.stack(parts, axis=1, dtype=np.float64))
        return self._designs[phase]

    def picture(self, phase: tuple[int, int]) -> np.ndarray:
        """The whole patch: ink share 0..1 of every pixel."""
        return self._phase_planes(phase)[0]


def _fill(polygons: Outline, half_rows: int, half_cols: int) -> tuple[np.ndarray, np.ndarray]:
    """Ink share of every template sample, and the mark's centre within it.

    The centre is given as px after the middle pixel's centre at phase 0.
    """
    middle = np.array([half_rows, half_cols]) + 1.0  # px from the array's border
    samples = tuple((polygon + middle) * PHASES for polygon in polygons)
    ink = coverage(samples, (2 * half_rows + 2) * PHASES, (2 * half_cols + 2) * PHASES)
    return ink, np.array([0.5, 0.5])


def _pixel_planes(ink: np.ndarray, blur: Blur) -> np.ndarray:
    """6 x rows x cols float32 at sample pitch, already averaged over one pixel."""
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (3, 3))
    growth = (cv2.dilate(ink, kernel) - cv2.erode(ink, kernel)) * (PHASES / 2.0)
    soft, grown = (_as_seen(plane, blur) for plane in (ink, growth))
    along_row, along_col = np.gradient(soft)
    # The sign: a centre moved by + 1 px takes the picture with it.
    shift = [-PHASES * along_row, -PHASES * along_col]
    bend = [PHASES**2 * _second(soft, axis) / 2.0 for axis in (0, 1)]
    return np.stack([soft, *shift, *bend, grown]).astype(np.float32)


def _as_seen(plane: np.ndarray, blur: Blur) -> np.ndarray:
    soft = cv2.GaussianBlur(
        plane,
        (0, 0),
        sigmaX=blur.col_px * PHASES,
        sigmaY=blur.row_px * PHASES,
        borderType=cv2.BORDER_REPLICATE,
    )
    # Sample k now holds the mean of samples k .. k + PHASES - 1: one whole pixel.
    return np.asarray(
        cv2.boxFilter(soft, -1, (PHASES, PHASES), anchor=(0, 0), borderType=cv2.BORDER_REPLICATE)
    )


def _by_sector(
    rows: np.ndarray, cols: np.ndarray, outline_px: float
) -> tuple[np.ndarray, tuple[slice, ...]]:
    """Order the places by direction from the centre, cut into sectors of some px of outline."""
    count = int(np.clip(outline_px / _SECTOR_PX, 8, 24))
    turn = np.arctan2(rows, cols) / (2.0 * math.pi) + 0.5
    sector = np.minimum((turn * count).astype(int), count - 1)
    order = np.argsort(sector, kind="stable")
    ends = np.cumsum(np.bincount(sector, minlength=count))
    return order, tuple(
        slice(int(start), int(end)) for start, end in zip([0, *ends[:-1]], ends, strict=True)
    )


def _softening(planes: np.ndarray) -> np.ndarray:
    """A softer edge answers less to a shift: by how much, per px^2 of blur variance."""
    change = np.empty((2, 2))
    for k, shift in enumerate(planes[1:3]):
        for axis in (0, 1):
            bent = np.diff(
                np.pad(shift, 1)[:, 1:-1] if axis == 0 else np.pad(shift, 1)[1:-1], 2, axis
            )
            change[k, axis] = float((bent * shift).sum() / (2.0 * (shift * shift).sum()))
    return change


def _second(plane: np.ndarray, axis: int) -> np.ndarray:
    return np.asarray(np.roll(plane, 1, axis) - 2.0 * plane + np.roll(plane, -1, axis))


@lru_cache(maxsize=64)
def template(shape: Shape, camera: Camera, blur: Blur) -> Template:
    """The template of a shape, camera and blur, made once."""
    return Template(shape, camera, blur)
