"""Pure colours of a frame: what the camera sees well inside each mark, each overprint, and beside.

A pixel counts for a set of inks only where it lies deep within every mark of the set
and well clear of every other, so that neither soft edges nor dot gain mix into it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from regscan.camera.camera import Camera
from regscan.job.layout import MarkDesign, Shape
from regscan.marks.seeing.light import colour_planes, to_light
from regscan.marks.shape.stencil import SAMPLES, stencil
from regscan.recording.frame import Frame

FEWEST_PIXELS = 9
_RIM_PX = 14.0  # substrate is read this far around a mark
_CLEAR_PX = 1.0  # beside the edge's softness: dot gain and lateral colour
_SOFT = 1.5  # edge widths (one sigma) that count as edge
_THIN = 0.6  # of a thin mark's own depth, where that is less than the usual margin
_FAR = -1e3
_NEAR_BARE = 0.12  # square-root light: pixels of a rim that may be bare substrate
_OFF_COLOUR = 0.15  # light: what lies further from an ink's line is another ink
_BESIDE_PX = 5.0  # how far outside a mark its ink is looked for
_OVEREXPOSED = 0.98  # of full scale, in codes


@dataclass(frozen=True, slots=True)
class Spot:
    """One mark as found: its design, centre (px) and edge width (px, one sigma)."""

    design: MarkDesign
    row_px: float
    col_px: float
    edge_px: float = 1.3


@dataclass(frozen=True, slots=True)
class PureColour:
    """One set of inks in one frame.

    light    C, over the light of the substrate beside it.
    pixels   how many it was read from.
    thin     a mark of the set is too thin for pixels that no edge reaches: a little paler.
    """

    light: np.ndarray
    pixels: int
    thin: bool = False


@dataclass(frozen=True, slots=True)
class _Depth:
    """How deep pixels lie in one mark, px (+ inside), and how deep is deep enough."""

    ink: str
    px: np.ndarray
    inner: float
    outer: float

    @property
    def thin(self) -> bool:
        return self.inner < self.outer

    @property
    def inside(self) -> np.ndarray:
        return np.asarray(self.px > self.inner)

    @property
    def outside(self) -> np.ndarray:
        return np.asarray(self.px < -self.outer)


@dataclass(frozen=True, slots=True)
class PrintedShape:
    """How a mark's print differs from its design, as shares of the design's area.

    lacking   well inside the design, but not printed.   beyond   printed, well outside it.
    """

    lacking: float
    beyond: float


@dataclass(frozen=True, slots=True)
class FrameColours:
    """What one frame shows.

    substrate   C, share of full scale.   overexposed   share of its pixels at full scale.
    inks        by set of inks: one for a mark alone, several where marks lie on each other.
    shapes      by ink and edge, of marks that show enough of themselves.
    """

    substrate: np.ndarray
    overexposed: float
    inks: dict[frozenset[str], PureColour]
    shapes: dict[tuple[str, str], PrintedShape]


def pure_colours(frame: Frame, camera: Camera, spots: Sequence[Spot]) -> FrameColours:
    """The pure colours of a frame whose marks have been found."""
    planes = colour_planes(frame.pixels, camera)
    light = to_light(planes, camera.tone, frame.full_scale)
    bare = bare_colour(light)
    found: dict[frozenset[str], list[PureColour]] = {}
    shapes: dict[tuple[str, str], PrintedShape] = {}
    papers, over = [], []
    for number, piece, depths in _windows(planes.shape[:2], camera, spots):
        codes = planes[piece].reshape(-1, planes.shape[2])
        seen = light[piece].reshape(len(codes), -1)
        rim = np.all([depth.outside for depth in depths], axis=0)
        paper, clipped = _paper(seen[rim], codes[rim], bare, frame.full_scale)
        papers.append(paper)
        over.append(clipped)
        share = seen / np.maximum(paper, 1e-4)
        here = dict(_sets(share, depths))
        for inks, pure in here.items():
            found.setdefault(inks, []).append(pure)
        design = spots[number].design
        if frozenset({design.ink}) in here:
            colour = here[frozenset({design.ink})].light
            shapes[design.ink, design.edge] = _shape(share, depths, number, colour)
    substrate = np.median(papers, axis=0) if papers else bare
    return FrameColours(
        substrate,
        float(np.mean(over)) if over else 0.0,
        {inks: max(some, key=lambda one: one.pixels) for inks, some in found.items()},
        shapes,
    )


def _middle(pixels: np.ndarray) -> np.ndarray:
    """Mean of the middle 60 % of N x C values, channel by channel: finer than a median of codes."""
    cut = int(0.2 * len(pixels))
    return np.asarray(np.sort(pixels, axis=0)[cut : len(pixels) - cut].mean(axis=0))


def bare_colour(light: np.ndarray) -> np.ndarray:
    """The commonest colour of a picture (rows x cols x C linear light): its bare substrate."""
    pixels = light[::4, ::4].reshape(-1, light.shape[2])
    levels = (np.sqrt(pixels) * 24.0).astype(int)
    keys = levels @ (32 ** np.arange(levels.shape[1]))
    values, counts = np.unique(keys, return_counts=True)
    commonest = np.median(pixels[keys == values[counts.argmax()]], axis=0)
    # Its bin may cut the colour's spread in two: once more about what was found.
    near = np.abs(np.sqrt(pixels) - np.sqrt(commonest)).max(axis=1) < 1.0 / 24.0
    return _middle(pixels[near])


Piece = tuple[slice, slice]


def _windows(
    size: tuple[int, ...], camera: Camera, spots: Sequence[Spot]
) -> Iterator[tuple[int, Piece, list[_Depth]]]:
    """Around each mark: its number, the piece of the frame, how deep pixels lie in each mark.

    Pieces where marks meet come once per mark; the same colours are then read again.
    """
    maps = [_depth_map(spot.design.shape, camera) for spot in spots]
    for number, (spot, own) in enumerate(zip(spots, maps, strict=True)):
        half = np.array(own.shape) / SAMPLES / 2.0
        place = spot.row_px, spot.col_px
        low = [max(round(p - h), 0) for p, h in zip(place, half, strict=True)]
        high = [min(round(p + h) + 1, n) for p, h, n in zip(place, half, size, strict=True)]
        if high[0] - low[0] < 3 or high[1] - low[1] < 3:
            continue
        piece = slice(low[0], high[0]), slice(low[1], high[1])
        yield number, piece, [_depth(m, s, piece) for s, m in zip(spots, maps, strict=True)]


def _depth_map(shape: Shape, camera: Camera) -> np.ndarray:
    """Distance from the outline in px, + inside, at SAMPLES per px about the mark's middle."""
    mark = stencil(shape, camera, 0.0)
    room = int(_RIM_PX * SAMPLES)
    inside = np.pad(mark.inside, room)
    deep = np.asarray(cv2.distanceTransform(inside, cv2.DIST_L2, 5))
    clear = np.asarray(cv2.distanceTransform(1 - inside, cv2.DIST_L2, 5))
    return np.asarray((deep - clear) / SAMPLES)


def _depth(depths: np.ndarray, spot: Spot, piece: Piece) -> _Depth:
    """The depth of every pixel of a piece in one mark; far outside beyond the map."""
    index = []
    for pixels, place, length in zip(piece, (spot.row_px, spot.col_px), depths.shape, strict=True):
        at = (np.arange(pixels.start, pixels.stop) - place) * SAMPLES + (length - 1) / 2.0
        index.append(np.round(at).astype(int))
    rows, cols = index
    within = ((rows >= 0) & (rows < depths.shape[0]))[:, None] & (
        (cols >= 0) & (cols < depths.shape[1])
    )[None]
    taken = depths[np.clip(rows, 0, depths.shape[0] - 1)][:, np.clip(cols, 0, depths.shape[1] - 1)]
    outer = _CLEAR_PX + _SOFT * spot.edge_px
    inner = min(outer, _THIN * float(depths.max()))
    return _Depth(spot.design.ink, np.where(within, taken, _FAR).ravel(), inner, outer)


def _paper(
    light: np.ndarray, codes: np.ndarray, bare: np.ndarray, full_scale: float
) -> tuple[np.ndarray, float]:
    """The substrate beside a mark (C), and the share of it at full scale."""
    if len(light) == 0:
        return bare, 0.0
    level = np.median(light / np.maximum(bare, 1e-4), axis=1)[:, None]
    like = np.abs(np.sqrt(light) - np.sqrt(level * bare)).max(axis=1) < _NEAR_BARE
    like &= (level[:, 0] > 0.4) & (level[:, 0] < 2.5)
    if like.sum() < max(FEWEST_PIXELS, 0.2 * len(light)):
        return bare, 0.0
    over = (codes[like] >= _OVEREXPOSED * full_scale).any(axis=1).mean()
    return _middle(light[like]), float(over)


def _sets(
    light: np.ndarray, depths: Sequence[_Depth]
) -> Iterator[tuple[frozenset[str], PureColour]]:
    """The median colour of every set of inks with enough pure pixels."""
    sure = np.all([depth.inside | depth.outside for depth in depths], axis=0)
    bits = np.zeros(len(light), int)
    for k, depth in enumerate(depths):
        bits |= depth.inside.astype(int) << k
    for value in np.unique(bits[sure]):
        here = sure & (bits == value)
        members = [depth for k, depth in enumerate(depths) if value >> k & 1]
        if members and here.sum() >= FEWEST_PIXELS:
            thin = any(member.thin for member in members)
            pure = PureColour(_middle(light[here]), int(here.sum()), thin)
            yield frozenset(member.ink for member in members), pure


def _shape(
    share: np.ndarray, depths: Sequence[_Depth], number: int, colour: np.ndarray
) -> PrintedShape:
    """Where one mark's ink lies and should not, or should and does not; other marks left out.

    share    N x C, light over the substrate's.   colour   C, the ink's.
    """
    own, others = depths[number], [d for k, d in enumerate(depths) if k != number]
    alone = np.all([depth.outside for depth in others], axis=0) if others else True
    step = colour - 1.0
    cover = (share - 1.0) @ step / max(float(step @ step), 1e-9)
    off = np.abs(share - 1.0 - cover[:, None] * step).max(axis=1)
    inked = (cover > 0.5) & (off < _OFF_COLOUR)
    inside = own.inside & alone
    near = own.outside & alone & (own.px > -own.outer - _BESIDE_PX)
    return PrintedShape(
        float((inside & (cover < 0.5)).sum() / max(inside.sum(), 1)),
        float((near & inked).sum() / max((own.px > 0.0).sum(), 1)),
    )
