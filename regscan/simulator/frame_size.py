"""How large a frame must be to hold a job's marks."""

from regscan.camera.camera import Camera
from regscan.job.layout import MarkDesign
from regscan.simulator.shapes import Outline

SMALLEST = (360, 480)


def frame_size(
    designs: tuple[MarkDesign, ...], camera: Camera, margin_mm: float
) -> tuple[int, int]:
    """(rows, cols) px that hold these marks with a margin around them, multiples of 8;
    the size a calibrated camera's lens was found with."""
    if camera.lens is not None:
        return camera.lens.rows_px, camera.lens.cols_px
    places = [camera.step_to_pixels(d.circumferential_mm, d.lateral_mm) for d in designs] or [
        (0.0, 0.0)
    ]
    reach_mm = max((Outline(d.shape).reach_mm for d in designs), default=0.0) + margin_mm
    sizes = camera.row_mm_per_px, camera.col_mm_per_px
    needed = []
    for along, size in zip(zip(*places, strict=True), sizes, strict=True):
        needed.append(max(along) - min(along) + 2.0 * reach_mm / size)
    rows, cols = (
        max(least, 8 * -(-int(n) // 8)) for least, n in zip(SMALLEST, needed, strict=True)
    )
    return rows, cols
