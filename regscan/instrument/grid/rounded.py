"""Rounded: a calibrated camera with numbers short enough to be read in its file."""

from collections.abc import Sequence
from dataclasses import replace

from regscan.camera.camera import Camera
from regscan.camera.lens import CalibrationDoubt, LateralColour


def rounded(camera: Camera) -> Camera:
    """Numbers cut to a millionth of a pixel over the frame, so that the file can be read."""
    lens = camera.lens
    assert lens is not None

    def six(values: Sequence[float]) -> tuple[float, ...]:
        return tuple(round(float(v), 6) for v in values)

    def colour(one: LateralColour) -> LateralColour:
        return LateralColour(*six((one.row_px, one.col_px, one.scale_px, one.cubic_px)))

    doubt = lens.doubt
    short = replace(
        lens,
        centre_px=(round(lens.centre_px[0], 6), round(lens.centre_px[1], 6)),
        radial_px=six(lens.radial_px),
        tangential_px=(round(lens.tangential_px[0], 6), round(lens.tangential_px[1], 6)),
        keystone_px=(round(lens.keystone_px[0], 6), round(lens.keystone_px[1], 6)),
        shear_px=round(lens.shear_px, 6),
        red=colour(lens.red),
        blue=colour(lens.blue),
        doubt=CalibrationDoubt(
            round(doubt.circumferential_scale_ppm, 2),
            round(doubt.lateral_scale_ppm, 2),
            round(doubt.rotation_deg, 6),
            round(doubt.residual_px, 5),
            round(doubt.colour_px, 5),
        ),
    )
    return replace(
        camera,
        row_mm_per_px=round(camera.row_mm_per_px, 12),
        col_mm_per_px=round(camera.col_mm_per_px, 12),
        rotation_deg=round(camera.rotation_deg, 7),
        lens=short,
    )
