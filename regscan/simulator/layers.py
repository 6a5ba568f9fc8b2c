"""Layers: everything printed in one frame, in print order, each at its true place."""

import math
from dataclasses import dataclass

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.job import Ink, Job
from regscan.job.layout import Bar, Disc, Shape
from regscan.simulator.chance import stream
from regscan.simulator.look import Look, Shot
from regscan.simulator.shapes import Outline
from regscan.simulator.truth import FrameTruth, TrueOffset


@dataclass(frozen=True, slots=True)
class Layer:
    """One piece of ink: its outline about a true centre in the frame.

    number   tells the layers' random streams apart.
    """

    ink: Ink
    outline: Outline
    row_px: float
    col_px: float
    number: int
    station: int


def all_layers(job: Job, camera: Camera, truth: FrameTruth, look: Look, shot: Shot) -> list[Layer]:
    """Marks, artwork and specks of a frame, sorted as the stations lay them down."""
    pieces = [*_marks(job, truth, shot), *_patches(job, camera, truth, look)]
    pieces += _specks(job, look, shot, camera)
    layers = [
        Layer(job.ink(ink), Outline(shape), row, col, number, job.station_of(ink).number)
        for number, (ink, shape, row, col) in enumerate(pieces)
    ]
    return sorted(layers, key=lambda layer: layer.station)


Piece = tuple[str, Shape, float, float]


def _marks(job: Job, truth: FrameTruth, shot: Shot) -> list[Piece]:
    designs = {(m.ink, m.edge): m.shape for m in job.marks_seen(shot.camera, shot.edge)}
    return [(m.ink, designs[m.ink, m.edge], m.row_px, m.col_px) for m in truth.marks]


def _patches(job: Job, camera: Camera, truth: FrameTruth, look: Look) -> list[Piece]:
    offsets: dict[str, TrueOffset] = {m.ink: m.offset for m in truth.marks}
    pieces: list[Piece] = []
    for patch in look.patches:
        offset = offsets.get(patch.ink, TrueOffset(0.0, 0.0))
        row, col = camera.to_pixels(
            patch.circumferential_mm + offset.circumferential_mm,
            patch.lateral_mm + offset.lateral_mm,
        )
        bar = Bar(length_mm=patch.width_mm, width_mm=patch.length_mm, turn_deg=patch.turn_deg)
        pieces.append((patch.ink, bar, row + truth.origin_px[0], col + truth.origin_px[1]))
    return pieces


def _specks(job: Job, look: Look, shot: Shot, camera: Camera) -> list[Piece]:
    specks = look.specks
    names = specks.inks or tuple(ink.name for ink in job.inks if ink.measurable)
    rng = stream(shot.seed, "specks")
    sizes = specks.diameter_um / 1000.0 * rng.lognormal(0.0, 0.3, specks.count)
    rows = rng.uniform(0, shot.rows - 1, specks.count)
    cols = rng.uniform(0, shot.cols - 1, specks.count)
    places = zip(sizes, rows, cols, strict=True)
    return [
        (names[k % len(names)], Disc(float(size)), float(row), float(col))
        for k, (size, row, col) in enumerate(places)
    ]


@dataclass(slots=True)
class Region:
    """Whole pixels that hold some layers: rows top..bottom-1, columns left..right-1."""

    top: int
    left: int
    bottom: int
    right: int
    layers: list[Layer]

    def touches(self, other: "Region") -> bool:
        """True when the two rectangles share a pixel."""
        apart = (
            self.bottom <= other.top
            or other.bottom <= self.top
            or self.right <= other.left
            or other.right <= self.left
        )
        return not apart

    def joined(self, other: "Region") -> "Region":
        """The smallest region that holds both."""
        return Region(
            min(self.top, other.top),
            min(self.left, other.left),
            max(self.bottom, other.bottom),
            max(self.right, other.right),
            self.layers + other.layers,
        )


def regions_of(
    layers: list[Layer], camera: Camera, size: tuple[int, int], margin_px: float
) -> list[Region]:
    """Rectangles around the layers, joined where they meet, so that each can be drawn alone.

    size        (rows, cols) of the frame; what lies further than the margin outside is left out.
    margin_px   how far around a layer the lens carries its ink.
    """
    regions: list[Region] = []
    for layer in layers:
        new = _around(layer, camera, size, margin_px)
        if new is None:
            continue
        while met := next((r for r in regions if r.touches(new)), None):
            regions.remove(met)
            new = met.joined(new)
        regions.append(new)
    return regions


def _around(layer: Layer, camera: Camera, size: tuple[int, int], margin_px: float) -> Region | None:
    """The pixels one layer may reach, as far as they matter to the frame."""
    along, across = layer.outline.half_box_mm
    corners = [camera.to_pixels(sign * along, across) for sign in (1.0, -1.0)]
    reach_row = max(abs(row) for row, _ in corners) + margin_px
    reach_col = max(abs(col) for _, col in corners) + margin_px
    halo = math.ceil(margin_px)
    top = max(math.floor(layer.row_px - reach_row), -halo)
    left = max(math.floor(layer.col_px - reach_col), -halo)
    bottom = min(math.ceil(layer.row_px + reach_row) + 1, size[0] + halo)
    right = min(math.ceil(layer.col_px + reach_col) + 1, size[1] + halo)
    if top >= bottom or left >= right:
        return None
    return Region(top, left, bottom, right, [layer])


def grid_mm(
    region: Region, layer: Layer, camera: Camera, fine: int
) -> tuple[np.ndarray, np.ndarray]:
    """(circumferential, lateral) mm about the layer's centre of a region's fine grid.

    fine x fine points per pixel, at the middles of its equal squares.
    """
    steps = (np.arange((region.bottom - region.top) * fine) + 0.5) / fine - 0.5
    rows = steps + region.top - layer.row_px
    steps = (np.arange((region.right - region.left) * fine) + 0.5) / fine - 0.5
    cols = steps + region.left - layer.col_px
    (a, b), (c, d) = camera.matrix
    return a * rows[:, None] + b * cols[None, :], c * rows[:, None] + d * cols[None, :]
