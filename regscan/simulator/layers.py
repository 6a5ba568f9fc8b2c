"""Layers: everything printed in one frame, in print order, each at its true place."""

from dataclasses import dataclass, replace

from regscan.camera.camera import Camera
from regscan.job.job import Ink, Job
from regscan.job.layout import Bar, Disc, Shape
from regscan.simulator.bent import seen_at
from regscan.simulator.chance import stream
from regscan.simulator.defects import Defect, Halftone
from regscan.simulator.halftone import Screened
from regscan.simulator.look import Look, Shot
from regscan.simulator.shapes import Outline
from regscan.simulator.truth import FrameTruth, TrueOffset


@dataclass(frozen=True, slots=True)
class Layer:
    """One piece of ink: its outline about a true centre in the frame.

    number    tells the layers' random streams apart.
    defects   what is wrong with it, besides what the look's print does to all layers.
    """

    ink: Ink
    outline: Outline | Screened
    row_px: float
    col_px: float
    number: int
    station: int
    defects: tuple[Defect, ...] = ()


def all_layers(job: Job, camera: Camera, truth: FrameTruth, look: Look, shot: Shot) -> list[Layer]:
    """Marks, artwork and specks of a frame, sorted as the stations lay them down."""
    marks = _marks(job, truth, shot)
    pieces = [*marks, *_patches(job, camera, truth, look), *_specks(job, look, shot, camera)]
    layers = [
        Layer(job.ink(ink), Outline(shape), row, col, number, job.station_of(ink).number)
        for number, (ink, shape, row, col) in enumerate(pieces)
    ]
    if look.defects:
        layers[: len(marks)] = [_with_defects(mark, look) for mark in layers[: len(marks)]]
    return sorted(layers, key=lambda layer: layer.station)


def _with_defects(mark: Layer, look: Look) -> Layer:
    own = tuple(defect for defect in look.defects if defect.ink == mark.ink.name)
    outline = mark.outline
    for defect in own:
        if isinstance(defect, Halftone) and isinstance(outline, Outline):
            outline = Screened(outline, defect)
    return replace(mark, outline=outline, defects=own)


Piece = tuple[str, Shape, float, float]


def _marks(job: Job, truth: FrameTruth, shot: Shot) -> list[Piece]:
    designs = {(m.ink, m.edge): m.shape for m in job.marks_seen(shot.camera, shot.edge)}
    return [(m.ink, designs[m.ink, m.edge], m.row_px, m.col_px) for m in truth.marks]


def _patches(job: Job, camera: Camera, truth: FrameTruth, look: Look) -> list[Piece]:
    offsets: dict[str, TrueOffset] = {m.ink: m.offset for m in truth.marks}
    pieces: list[Piece] = []
    for patch in look.patches:
        offset = offsets.get(patch.ink, TrueOffset(0.0, 0.0))
        row, col = seen_at(
            camera,
            truth.origin_px,
            patch.circumferential_mm + offset.circumferential_mm,
            patch.lateral_mm + offset.lateral_mm,
        )
        bar = Bar(length_mm=patch.width_mm, width_mm=patch.length_mm, turn_deg=patch.turn_deg)
        pieces.append((patch.ink, bar, row, col))
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
