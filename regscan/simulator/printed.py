"""Printed: linear light of web and print after the lens, of a frame or a window of it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.job import Job
from regscan.simulator.bent import parted, within
from regscan.simulator.ink import light_of
from regscan.simulator.layers import Layer
from regscan.simulator.lens import margin_px, smear_px, through_lens
from regscan.simulator.light import light_of_region
from regscan.simulator.look import Look, Shot
from regscan.simulator.regions import FINE, Region, regions_of


@dataclass(frozen=True, slots=True)
class Scene:
    """All that a frame is drawn from, but for what its inks' offsets are."""

    job: Job
    camera: Camera
    look: Look
    shot: Shot


@dataclass(frozen=True, slots=True)
class Window:
    """Whole pixels of a frame: rows top..bottom-1, columns left..right-1."""

    top: int
    left: int
    bottom: int
    right: int

    @property
    def slices(self) -> tuple[slice, slice]:
        """Its (rows, columns) as an index into the frame."""
        return slice(self.top, self.bottom), slice(self.left, self.right)


def printed_light(
    scene: Scene, layers: Sequence[Layer], window: Window | None = None
) -> np.ndarray:
    """rows x cols x 3 float32, light falling evenly and at full exposure.

    window   only this part of the frame is drawn; the same pixels, but for random
             print roughness and pinholes, which depend on how much is drawn at once.
    """
    job, camera, look, shot = scene.job, scene.camera, scene.look, scene.shot
    window = window or Window(0, 0, shot.rows, shot.cols)
    camera = within(camera, window.top, window.left)
    size = window.bottom - window.top, window.right - window.left
    light = np.empty((*size, 3), dtype=np.float32)
    light[:] = light_of(job.substrate, "substrate", job).astype(np.float32)
    smear = smear_px(look.lens, camera, shot)
    moved = [
        replace(layer, row_px=layer.row_px - window.top, col_px=layer.col_px - window.left)
        for layer in layers
    ]
    for region in regions_of(moved, camera, size, _margin_px(scene)):
        inner = _inside(region, size)
        if inner is not None:
            fine = light_of_region(region, job, camera, look, shot.seed)
            fine = parted(fine, camera.lens, (region.top, region.left), FINE)
            own = through_lens(fine, look.lens, smear, FINE)
            frame_part, region_part = inner
            light[frame_part] = own[region_part]
    return light


def _margin_px(scene: Scene) -> float:
    """How far around a mark's outline its ink may show, px."""
    look, camera = scene.look, scene.camera
    spread_mm = (abs(look.print.gain_um) + 5.0 * look.print.roughness_um) / 1000.0
    spread_mm += max((defect.reach_mm for defect in look.defects), default=0.0)
    return margin_px(look.lens, camera, scene.shot) + spread_mm / camera.mm_per_px


Part = tuple[slice, slice]


def _inside(region: Region, size: tuple[int, int]) -> tuple[Part, Part] | None:
    """The part of a region within the frame: in frame and in region coordinates."""
    top, bottom = max(region.top, 0), min(region.bottom, size[0])
    left, right = max(region.left, 0), min(region.right, size[1])
    if top >= bottom or left >= right:
        return None
    rows, cols = slice(top, bottom), slice(left, right)
    own_rows = slice(top - region.top, bottom - region.top)
    own_cols = slice(left - region.left, right - region.left)
    return (rows, cols), (own_rows, own_cols)
