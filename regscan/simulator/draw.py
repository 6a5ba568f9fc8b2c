"""Draw: job + camera + true offsets + look -> one frame and its truth."""

from collections.abc import Mapping

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.job import Job
from regscan.job.layout import MarkDesign
from regscan.recording.frame import Frame, FrameInfo
from regscan.simulator.chance import smooth_field, stream
from regscan.simulator.cover import FINE
from regscan.simulator.ink import light_of
from regscan.simulator.layers import Region, all_layers, regions_of
from regscan.simulator.lens import margin_px, smear_px, through_lens, uneven_grey
from regscan.simulator.light import light_of_region
from regscan.simulator.look import Look, Shot
from regscan.simulator.sensor import decoded, encoded, to_pixels
from regscan.simulator.truth import IN_PLACE, FrameTruth, TrueMark, TrueOffset

CLEAN_LOOK = Look()
CLEAN_SHOT = Shot()


def draw_frame(
    job: Job,
    camera: Camera,
    offsets: Mapping[str, tuple[float, float]] | None = None,
    look: Look = CLEAN_LOOK,
    shot: Shot = CLEAN_SHOT,
) -> tuple[Frame, FrameTruth]:
    """One frame as the camera would take it, and where every mark really lies.

    offsets   per ink (circumferential_mm, lateral_mm) from its design place, signs as
              everywhere; inks not named print in place.
    Marks the camera cannot see (later stations, the other web edge) and invisible
    inks are not drawn. Same arguments, same pixels.
    Raises BadJob when an ink has no colour, KeyError for a camera the press has not.
    """
    truth = true_places(job, camera, offsets or {}, shot)
    light = _printed_light(job, camera, truth, look, shot)
    light *= np.float32(look.sensor.exposure)
    light *= _illumination(job, camera, look, shot)[..., None]
    info = FrameInfo(
        shot.name,
        shot.index,
        shot.time_s,
        shot.web_m,
        shot.speed_m_min,
        shot.camera,
        shot.edge,
    )
    return Frame(info, to_pixels(light, camera, look.sensor, shot.seed)), truth


def true_places(
    job: Job, camera: Camera, offsets: Mapping[str, tuple[float, float]], shot: Shot
) -> FrameTruth:
    """Where every visible mark lies, in px, when its ink is off by `offsets` (mm)."""
    origin = shot.origin_px or mid_frame_origin(job, camera, shot)
    marks = []
    for design in _visible(job, shot):
        offset = TrueOffset(*offsets.get(design.ink, IN_PLACE))
        row, col = camera.to_pixels(
            design.circumferential_mm + offset.circumferential_mm,
            design.lateral_mm + offset.lateral_mm,
        )
        marks.append(TrueMark(design.ink, design.edge, offset, origin[0] + row, origin[1] + col))
    return FrameTruth(origin, tuple(marks))


def _visible(job: Job, shot: Shot) -> list[MarkDesign]:
    return [m for m in job.marks_seen(shot.camera, shot.edge) if job.ink(m.ink).measurable]


def mid_frame_origin(job: Job, camera: Camera, shot: Shot) -> tuple[float, float]:
    """(row, col) px of the mark set's zero that puts the design's marks mid-frame."""
    designs = _visible(job, shot)
    places = [camera.to_pixels(d.circumferential_mm, d.lateral_mm) for d in designs] or [(0, 0)]
    rows, cols = [p[0] for p in places], [p[1] for p in places]
    return (
        (shot.rows - 1) / 2.0 - (min(rows) + max(rows)) / 2.0,
        (shot.cols - 1) / 2.0 - (min(cols) + max(cols)) / 2.0,
    )


def _printed_light(
    job: Job, camera: Camera, truth: FrameTruth, look: Look, shot: Shot
) -> np.ndarray:
    """Linear light of web and print after the lens, rows x cols x 3 float32."""
    paper = light_of(job.substrate, "substrate", job).astype(np.float32)
    light = np.empty((shot.rows, shot.cols, 3), dtype=np.float32)
    light[:] = paper
    smear = smear_px(look.lens, camera, shot)
    spread_um = abs(look.print.gain_um) + 5.0 * look.print.roughness_um
    margin = margin_px(look.lens, camera, shot) + spread_um / 1000.0 / camera.mm_per_px
    layers = all_layers(job, camera, truth, look, shot)
    for region in regions_of(layers, camera, (shot.rows, shot.cols), margin):
        inner = _inside(region, shot)
        if inner is not None:
            fine = light_of_region(region, job, camera, look, shot.seed)
            own = through_lens(fine, look.lens, smear, FINE)
            frame_part, region_part = inner
            light[frame_part] = own[region_part]
    return light


Window = tuple[slice, slice]


def _inside(region: Region, shot: Shot) -> tuple[Window, Window] | None:
    """The part of a region within the frame: in frame and in region coordinates."""
    top, bottom = max(region.top, 0), min(region.bottom, shot.rows)
    left, right = max(region.left, 0), min(region.right, shot.cols)
    if top >= bottom or left >= right:
        return None
    rows, cols = slice(top, bottom), slice(left, right)
    own_rows = slice(top - region.top, bottom - region.top)
    own_cols = slice(left - region.left, right - region.left)
    return (rows, cols), (own_rows, own_cols)


def _illumination(job: Job, camera: Camera, look: Look, shot: Shot) -> np.ndarray:
    """Factor on linear light, rows x cols, such that the bare substrate changes by the
    grey levels the look asks for (slope, vignetting, grain)."""
    wanted = uneven_grey(look.lens, shot.rows, shot.cols)
    if look.grain_grey > 0.0:
        length = look.grain_um / 1000.0 / camera.mm_per_px
        rng = stream(shot.seed, "grain")
        wanted = wanted + look.grain_grey * smooth_field((shot.rows, shot.cols), length, rng)
    if not np.any(wanted):
        return np.ones((1, 1), dtype=np.float32)
    green = light_of(job.substrate, "substrate", job)[1] * look.sensor.exposure
    middle = encoded(np.full((1, 1), green, dtype=np.float32), camera.tone)[0, 0]
    lit = np.clip(middle + wanted / 255.0, 0.0, None)
    return np.asarray(decoded(lit, camera.tone) / green, dtype=np.float32)
