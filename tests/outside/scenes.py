"""Mark sets on outside pages, with the truth that goes with them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from outside.camera import Optics, frame_of
from outside.colours import Inks
from outside.jobs import camera_of, job_of
from outside.page import Lie, Page, Printed
from outside.plates import FINE, PX_MM, Plates, pixel_of
from regscan.camera.camera import Camera
from regscan.job.job import Job
from regscan.job.layout import MarkDesign, Shape
from regscan.recording.frame import Frame

FINE_MM = PX_MM / FINE
UPRIGHT = Lie()


@dataclass(frozen=True)
class Scene:
    """A page to be drawn, the job that describes it, and how the web lies on it."""

    page: Page
    designs: tuple[MarkDesign, ...]

    def truth(self, ink: str) -> tuple[float, float]:
        """(row, col) px of the ink's mark."""
        (mark,) = (p for p in self.page.printed if p.ink == ink)
        return pixel_of(mark.down_mm, mark.right_mm)


@dataclass(frozen=True)
class Taken:
    """A scene as regscan gets it."""

    frame: Frame
    job: Job
    camera: Camera


def grid_designs(shapes: Mapping[str, Shape], pitch_mm: float, across: int) -> list[MarkDesign]:
    """Marks row by row at a pitch, `across` of them along the lateral axis."""
    return [
        MarkDesign(ink, shape, k // across * pitch_mm, k % across * pitch_mm)
        for k, (ink, shape) in enumerate(shapes.items())
    ]


def print_scene(
    designs: Sequence[MarkDesign],
    seed: int,
    lie: Lie = UPRIGHT,
    *,
    astray_mm: float = 0.15,
    on_fine_grid: bool = False,
) -> Scene:
    """Every mark up to astray_mm off its place on both axes, the set anywhere by a pixel.

    on_fine_grid rounds places to a fine pixel of the renderer, for marks whose straight
    edges lie along the grid and would else be rounded by it.
    """
    rng = np.random.default_rng(seed)
    spots = [
        np.array(lie.on_page(d.circumferential_mm, d.lateral_mm))
        + lie.on_page(*rng.uniform(-astray_mm, astray_mm, 2))
        for d in designs
    ]
    margin = 0.9 + rng.uniform(0, PX_MM, 2)
    places = np.array(spots) - np.min(spots, axis=0) + margin
    if on_fine_grid:
        places = np.rint(places / FINE_MM) * FINE_MM
    height, width = np.ceil((np.max(places, axis=0) + 0.9) / PX_MM) * PX_MM
    printed = [
        Printed(d.ink, d.shape, *map(float, place))
        for d, place in zip(designs, places, strict=True)
    ]
    return Scene(Page(float(height), float(width), tuple(printed), lie), tuple(designs))


def take(
    scene: Scene,
    plates: Plates,
    light: Mapping[Inks, np.ndarray],
    labs: Mapping[str, tuple[float, float, float]],
    optics: Optics,
    seed: int = 0,
) -> Taken:
    """The frame of a drawn scene, with the job and the camera that fit it."""
    job = job_of(scene.designs, labs, reference=scene.designs[-1].ink)
    frame = frame_of(plates.light(light), optics, seed)
    return Taken(frame, job, camera_of(scene.page.lie, optics))
