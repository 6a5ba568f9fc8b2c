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
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache, partial

import cv2
import numpy as np

from regscan.camera.camera import Camera
from regscan.job.layout import Shape
from regscan.marks.median import median
from regscan.marks.shape.outline import outline_area, outline_length_px, outline_px
from regscan.marks.shape.planes import (
    PHASES,
    Dots,
    Softness,
    facing_plane,
    filled,
    pixel_planes,
    softening_of,
)
from regscan.marks.shape.raster import swelling
from regscan.marks.shape.sectors import by_sector, sector_of

SHARPEST_PX = 0.2  # a softness below this cannot be told from none
_CENTRE_PX = 0.5  # from the middle pixel's centre to the mark's at phase 0
PARTS = 11  # of the linear model, see Template.design
_MOST_AT_ONCE = 30_000  # places that OpenCV reads in one call: it counts them in 16 bits
TILE = 3  # flats are read as means of 3 x 3 pixels
_NEARLY = 1.4  # widths of the two axes closer than this count as one
_SECTOR_PX = 14  # outline per sector: longer than what ties the errors of neighbours
_SECTOR_WIDTHS = 5.0  # the same where softness ties them, in widths of the edge
_FEW_PLACES, _THINNEST = 560, 4  # places that still find a centre; one in so many at most
_ALL = slice(None)
_GROWTH_RUNG_PX = 0.25
_MOST_SIZES = 16  # of patches, for which indices are kept
_MOST_NEAR = 50  # edges moved that are kept: of the web's two ways, every quarter of a pixel
_WAYS = 10  # for which the edge that faces them is kept
_DESIGN_BYTES = 6_000_000  # of designs kept per template; more are made when asked for
_STEPS = 32767.0  # of a plane's largest value: a frame's pixels have 255
_EDGE_SHARE = 0.012  # a pixel belongs to the edge if 1 px of shift changes it by this


@dataclass(frozen=True, slots=True)
class Appearance:
    """How a printed mark differs from its drawn outline, px.

    row_px, col_px   Gaussian width of its edge on each image axis (one sigma).
    growth_px        how far every edge has spread outward (dot gain), in pixels of the mean size.
    """

    row_px: float
    col_px: float
    growth_px: float = 0.0

    @property
    def softness(self) -> Softness:
        """The two widths."""
        return self.row_px, self.col_px

    @staticmethod
    def usual(looks: "Sequence[Appearance]") -> "Appearance":
        """What most of at least one look like: where they differ, the rung nearest to the middle
        ones."""
        if all(look == looks[0] for look in looks):
            return looks[0]
        parts = zip(*((look.row_px, look.col_px, look.growth_px) for look in looks), strict=True)
        return Appearance(*map(median, parts)).rounded()

    def corrects(self, row_var: float, col_var: float, growth_px: float) -> bool:
        """Whether a fit made with it corrects for edges whose variances down rows and along
        columns differ by so much, px^2, and their growth: a quarter of its own, a fifth of a px."""
        off = max(abs(row_var) / self.row_px**2, abs(col_var) / self.col_px**2)
        return off < 0.25 and abs(growth_px) < 0.2

    def does_for(self, other: "Appearance") -> bool:
        """Whether a fit made with it does for a mark that has another."""
        rows, cols = other.row_px**2 - self.row_px**2, other.col_px**2 - self.col_px**2
        return self.corrects(rows, cols, other.growth_px - self.growth_px)

    def rounded(self) -> "Appearance":
        """The nearest one of a ladder of widths (15 % rungs, the same for both axes when
        they are nearly alike) and growths: the fit finds the rest, templates are costly."""
        growth = round(self.growth_px / _GROWTH_RUNG_PX) * _GROWTH_RUNG_PX
        if max(self.row_px, self.col_px) < _NEARLY * min(self.row_px, self.col_px):
            both = _rung(math.sqrt(self.row_px * self.col_px))
            return Appearance(both, both, growth)
        return Appearance(_rung(self.row_px), _rung(self.col_px), growth)


def _rung(width_px: float) -> float:
    clipped = min(max(width_px, SHARPEST_PX), 12.0)
    return round(1.15 ** round(math.log(clipped, 1.15)), 4)


# Planes at the N places, by phase: in steps, and how large these are.
_Picked = dict[tuple[int, int], tuple[np.ndarray, np.ndarray]]


@dataclass(frozen=True, slots=True)
class Between:
    """A centre between four phases: the lowest, each one's share, and the middle pixel."""

    low: tuple[int, int]
    shares: tuple[float, float, float, float]
    middle: tuple[int, int]


class Template:
    """One shape, camera and appearance. Arrays are float64; N is the number of chosen pixels.

    dots makes a tint of it: ink on the web at so many samples (rows, columns) about the centre,
    for an edge of that softness; shift and growth then are of the outline alone.

    area_px                area of the design; grown_area_px of the outline as it appears;
                           area_per_growth_px is the latter's change per px of growth.
    growth_px              how far the outline lies outside the design's; see `spread_of`.
    edge_px                Gaussian width of the edge, mean of both axes.
    reach_rows, reach_cols how far the outline reaches from its centre, px.
    half_rows, half_cols   the patch holds 2 * half + 1 pixels on each axis.
    places                 2 x N, rows and columns in the patch, relative to its middle pixel.
    tile                   N bool, True where the place stands for TILE x TILE pixels.
    areas                  N, pixels that the place stands for.
    web_mm                 2 x N float32, places on the web, from the middle pixel; matrix: the
                           camera's, of which that comes.
    areas_px               areas in single precision.
    paper                  3 x N float32, the paper's parts of the model, see `design`.
    softening              2 x 2: relative change of the shift planes (row, col) per px^2 of
                           blur variance (row, col), as a fit of those planes sees it.
    room                   N, pixels that must lie around the place within the frame.
    edge                   N bool, True along the printed edge.
    groups                 indices of the places along the edge, and of the others.
    sectors                J x L, the places along the edge, those in one direction from the centre
                           side by side; where there are fewer than L, some other place.
    in_sector              J x L float32, 1 for places of the sector and 0 for those others.
    inside                 N bool, True where there is more ink than paper.
    thin                   slice of the N places that is enough to find the centre roughly.
    flats, thin_flats      indices of the places that stand for tiles, among all and the thin ones.
    """

    def __init__(
        self, shape: Shape, camera: Camera, look: Appearance, dots: Dots | None = None
    ) -> None:
        self._look, self.matrix = look, np.array(camera.matrix)
        polygons = outline_px(shape, camera, look.growth_px)
        corners = np.concatenate(polygons)
        reach = np.abs(corners).max(axis=0)
        margin = 3.0 + 2.5 * max(look.row_px, look.col_px)
        # Outside the mark, paper as wide as a third of it, to know the light on all sides.
        self.half_rows, self.half_cols = (math.ceil(r + max(margin, 0.7 * r)) for r in reach)
        self.reach_rows, self.reach_cols = float(reach[0]), float(reach[1])
        self.shape_px = (2 * self.half_rows + 1, 2 * self.half_cols + 1)
        half = self.half_rows, self.half_cols
        self._ink = partial(filled, shape, camera, look.growth_px, half)
        ink = self._ink()
        design = outline_area(outline_px(shape, camera))
        self.area_px, self.grown_area_px = design, float(ink.sum()) / PHASES**2
        self.area_per_growth_px = outline_length_px(polygons, camera)
        self.growth_px = look.growth_px
        self.edge_px = math.sqrt(look.row_px * look.col_px)
        growth = swelling(ink, polygons, camera, PHASES)
        self._planes = pixel_planes(ink, growth, look.softness, dots)
        self._dotted = dots is not None
        self._choose_pixels()
        self._picked: _Picked = {}
        self._edges: dict[tuple[float, float], np.ndarray] = {}
        self._near: dict[tuple[int, int, tuple[float, float], bytes], np.ndarray] = {}
        self._indices: dict[int, np.ndarray] = {}

    def _phase_planes(self, phase: tuple[int, int]) -> np.ndarray:
        rows, cols = self.shape_px
        row, col = phase
        return self._planes[:, row::PHASES, col::PHASES][:, :rows, :cols]

    def _choose_pixels(self) -> None:
        planes = self._phase_planes((2, 2))
        slope = np.hypot(planes[1], planes[2])
        edge = cv2.dilate((slope > _EDGE_SHARE).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
        uneven = edge | (np.hypot(*np.gradient(planes[0])) > _EDGE_SHARE) if self._dotted else edge
        tile = np.zeros_like(edge)
        half = TILE // 2
        middle = slice(half, None, TILE)
        # A tile counts as flat where none of its pixels is edge.
        near = cv2.dilate(uneven.astype(np.uint8), np.ones((TILE, TILE), np.uint8)) > 0
        tile[middle, middle] = ~near[middle, middle]
        covered = cv2.dilate(tile.astype(np.uint8), np.ones((TILE, TILE), np.uint8)) > 0
        chosen = tile | ~covered
        index = np.flatnonzero(chosen)
        rows, cols = np.divmod(index, chosen.shape[1])
        sector_px = max(_SECTOR_PX, _SECTOR_WIDTHS * max(self._look.row_px, self._look.col_px))
        sector = sector_of(
            rows - self.half_rows, cols - self.half_cols, self.area_per_growth_px / sector_px
        )
        order = np.argsort(sector, kind="stable")
        rows, cols, sector = rows[order], cols[order], sector[order]
        self._flat_index = index[order]
        self.places = np.stack([rows - self.half_rows, cols - self.half_cols])
        halves = np.array([[self.half_rows], [self.half_cols]])
        self.paper = np.vstack([np.ones(rows.size), self.places / halves]).astype(np.float32)
        self.tile = tile[rows, cols]
        self.areas = np.where(self.tile, float(TILE**2), 1.0)
        self.web_mm = (self.matrix @ self.places).astype(np.float32)
        self.areas_px = self.areas.astype(np.float32)
        self.room = np.where(self.tile, half, 0)
        self.edge = edge[rows, cols]
        self.groups = np.flatnonzero(self.edge), np.flatnonzero(~self.edge)
        self.sectors, self.in_sector = by_sector(self.groups[0], sector[self.edge])
        self.softening: list[list[float]] = softening_of(planes).tolist()
        self.inside = planes[0][rows, cols] > 0.5
        self.thin = slice(None, None, int(np.clip(rows.size // _FEW_PLACES, 1, _THINNEST)))
        self.flats, self.thin_flats = self.tile.nonzero()[0], self.tile[self.thin].nonzero()[0]

    def index_in(self, width: int) -> np.ndarray:
        """Where a picture so many pixels wide holds the N places, counted along its rows; for a
        middle pixel at (0, 0)."""
        if width not in self._indices:
            if len(self._indices) >= _MOST_SIZES:
                self._indices.clear()
            rows, cols = self.places
            self._indices[width] = rows * width + cols
        return self._indices[width]

    def phase_of(self, row_px: float, col_px: float) -> tuple[tuple[int, int], int, int]:
        """The nearest phase of a centre, and the patch's middle pixel (row, col)."""
        middle, phase = [], []
        for place in (row_px, col_px):
            # Phase p puts the centre _CENTRE - p / PHASES px after the middle pixel's centre.
            quarter = round((_CENTRE_PX - place) * PHASES)
            phase.append(quarter % PHASES)
            middle.append(-((quarter - quarter % PHASES) // PHASES))
        return (phase[0], phase[1]), middle[0], middle[1]

    def centre_of(self, phase: tuple[int, int], row: int, col: int) -> tuple[float, float]:
        """The centre (row, col) px that a phase stands for with the middle pixel given."""
        return (
            row + _CENTRE_PX - phase[0] / PHASES,
            col + _CENTRE_PX - phase[1] / PHASES,
        )

    def phases_about(self, row_px: float, col_px: float) -> "Between":
        """Where a centre lies between phases.

        Mixing the four about it softens the picture by at most 1/64 px^2, which the fit
        finds, but shifts nothing.
        """
        low, middle, share = [], [], []
        for place in (row_px, col_px):
            quarter = (_CENTRE_PX - place) * PHASES
            whole = math.floor(quarter)
            low.append(whole % PHASES)
            middle.append(-((whole - whole % PHASES) // PHASES))
            share.append(quarter - whole)
        down, right = share
        shares = (1.0 - down) * (1.0 - right), (1.0 - down) * right, down * (1.0 - right)
        return Between((low[0], low[1]), (*shares, down * right), (middle[0], middle[1]))

    def ink_at(self, between: "Between") -> np.ndarray:
        """6 x N float32, ink and its changes (see `design`) for a centre exactly there."""
        planes, steps = self._planes_about(between.low)
        mixed = np.array(between.shares, np.float32) @ planes.astype(np.float32)
        return np.asarray(mixed.reshape(6, -1) * steps)

    def facing_at(
        self, row_px: float, col_px: float, along: tuple[float, float], far_px: np.ndarray
    ) -> np.ndarray:
        """T x N, the edge that faces along (a step of 1 px, rows and columns), as a shift of 1 px
        changes it, at every place, when it is moved so far (T) that way."""
        return self._moved(self._corner(row_px, col_px), along, far_px, self.places)

    def facing_near(
        self, row_px: float, col_px: float, along: tuple[float, float], far_px: np.ndarray
    ) -> np.ndarray:
        """The same at the thin places, with the centre at the nearest quarter of a pixel: kept."""
        down, right = self._corner(row_px, col_px)
        key = round(down), round(right), along, far_px.tobytes()
        if key not in self._near:
            if len(self._near) >= _MOST_NEAR:
                self._near.clear()
            self._near[key] = self._moved(key[:2], along, far_px, self.places[:, self.thin])
        return self._near[key]

    def _corner(self, row_px: float, col_px: float) -> tuple[float, float]:
        """How many samples on from a pixel of the middle's a centre's picture is read."""
        between = self.phases_about(row_px, col_px)
        down, right = between.shares[2] + between.shares[3], between.shares[1] + between.shares[3]
        return between.low[0] + down, between.low[1] + right

    def _moved(
        self,
        corner: tuple[float, float],
        along: tuple[float, float],
        far_px: np.ndarray,
        places: np.ndarray,
    ) -> np.ndarray:
        halves = np.array([[self.half_rows], [self.half_cols]])
        samples = PHASES * (places + halves) + np.array(corner)[:, None]
        rows, cols = samples.astype(np.float32)
        moved = (PHASES * far_px[:, None]).astype(np.float32)
        facing = self._facing(along)
        at = cols - moved * np.float32(along[1]), rows - moved * np.float32(along[0])
        pieces = []
        for k in range(0, at[0].shape[1], _MOST_AT_ONCE):
            right, down = (np.ascontiguousarray(way[:, k : k + _MOST_AT_ONCE]) for way in at)
            pieces.append(
                cv2.remap(facing, right, down, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
            )
        return np.concatenate(pieces, axis=1)

    def _facing(self, along: tuple[float, float]) -> np.ndarray:
        """The edge that faces along, at sample pitch: of the web's two ways, looked at often."""
        if along not in self._edges:
            if len(self._edges) >= _WAYS:
                self._edges.pop(next(iter(self._edges)))
            self._edges[along] = facing_plane(self._ink(), along, self._look.softness)
        return self._edges[along]

    def _planes_about(self, low: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
        """4 x 6 N int16: ink and its changes at every place, for that phase and the three after
        it down the rows, along the columns and on both; and 6 x 1 float32, the steps they are in.

        Another phase for every mark of every frame: they are most of what a fit has to fetch from
        memory, and it takes less time to widen numbers than to fetch wide ones.
        """
        if low not in self._picked:
            if len(self._picked) >= max(_DESIGN_BYTES // (2 * 4 * 6 * self.tile.size), 4):
                self._picked.pop(next(iter(self._picked)))
            each = [self._phase_planes(phase).reshape(6, -1) for phase in _four_from(low)]
            planes = np.stack([plane.take(self._flat_index, axis=1) for plane in each])
            steps = np.maximum(np.abs(planes).max(axis=(0, 2)), 1e-12)[:, None] / _STEPS
            kept = np.rint(planes / steps).astype(np.int16).reshape(4, -1)
            self._picked[low] = kept, steps.astype(np.float32)
        return self._picked[low]

    def design(self, phase: tuple[int, int], places: slice = _ALL) -> np.ndarray:
        """11 x N, the model's parts at every place, or some.

        0..2   light of the paper: level, slope down the rows, slope along the columns
               (slopes per half patch).
        3      ink.
        4, 5   its change per px of shift (row, col).
        6, 7   its change per px^2 of blur variance (row, col).
        8      its change per px of growth all round.
        9, 10  ink times the two slopes: light may fall off differently on ink.
        """
        parts = np.empty((PARTS, self.tile[places].size))
        parts[:3] = self.paper[:, places]
        planes, steps = self._planes_about(phase)
        parts[3:9] = planes[0].reshape(6, -1)[:, places] * steps
        np.multiply(parts[1:3], parts[3], out=parts[9:])
        return parts

    def picture(self, phase: tuple[int, int]) -> np.ndarray:
        """The whole patch: ink share 0..1 of every pixel."""
        return self._phase_planes(phase)[0]


def _four_from(low: tuple[int, int]) -> list[tuple[int, int]]:
    return [(low[0] + down, low[1] + right) for down in (0, 1) for right in (0, 1)]


@lru_cache(maxsize=32)
def template(shape: Shape, camera: Camera, look: Appearance) -> Template:
    """The template of a shape, camera and appearance, made once."""
    return Template(shape, camera, look)
