"""How drawings lie on the page: as the camera sees the web, without its small turn."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from regscan.camera.camera import Camera
from regscan.drift.drift import Stretch
from regscan.job.job import AXES, Axis
from regscan.report.views import View
from regscan.run import Run

XY = tuple[float, float]


def upright(run: Run, view: View, units_per_mm: float) -> Camera:
    """A camera that maps web mm to drawing units (right, down), turned as the view's camera.

    A run from a table names no camera: web travel is drawn upward then, the
    drive side to the right.
    """
    by_name = {camera.name: camera for camera in run.cameras}
    camera = by_name.get(view.camera) or next(iter(run.cameras), Camera(1.0, 1.0))
    unit = 1.0 / units_per_mm
    return replace(camera, row_mm_per_px=unit, col_mm_per_px=unit, rotation_deg=0.0, lens=None)


def xy(camera: Camera, web_mm: Sequence[float]) -> XY:
    """(x, y) in drawing units of (circumferential, lateral) mm; y grows downward."""
    row, col = camera.to_pixels(web_mm[0], web_mm[1])
    return round(col, 2) + 0.0, round(row, 2) + 0.0  # + 0.0 turns -0.0 into 0.0


def worst_places(
    camera: Camera, worst: Mapping[Axis, Stretch], settled_mm: Sequence[float]
) -> list[XY]:
    """Where a colour was at its worst on each axis, the other axis as it settled."""
    settled = dict(zip(AXES, settled_mm, strict=True))
    return [xy(camera, list({**settled, a: s.worst_mm}.values())) for a, s in worst.items()]


def half_size(camera: Camera, half_mm: Sequence[float]) -> XY:
    """Half width and half height of a box given by its halves along the web axes."""
    x, y = xy(camera, half_mm)
    return abs(x), abs(y)
