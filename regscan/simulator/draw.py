"""Draw: job + camera + true offsets + look -> one frame and its truth."""

from collections.abc import Mapping

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.job import Job
from regscan.job.layout import MarkDesign
from regscan.recording.frame import Frame, FrameInfo
from regscan.simulator.bent import seen_at
from regscan.simulator.illumination import illumination
from regscan.simulator.layers import all_layers
from regscan.simulator.look import Look, Shot
from regscan.simulator.printed import Scene, printed_light
from regscan.simulator.sensor import to_pixels
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
    scene = Scene(job, camera, look, shot)
    light = printed_light(scene, all_layers(job, camera, truth, look, shot))
    light *= np.float32(look.sensor.exposure)
    light *= illumination(job, camera, look, shot)[..., None]
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
        place = seen_at(
            camera,
            origin,
            design.circumferential_mm + offset.circumferential_mm,
            design.lateral_mm + offset.lateral_mm,
        )
        marks.append(TrueMark(design.ink, design.edge, offset, *place))
    return FrameTruth(origin, tuple(marks))


def _visible(job: Job, shot: Shot) -> list[MarkDesign]:
    return [m for m in job.marks_seen(shot.camera, shot.edge) if job.ink(m.ink).measurable]


def mid_frame_origin(job: Job, camera: Camera, shot: Shot) -> tuple[float, float]:
    """(row, col) px of the mark set's zero that puts the design's marks mid-frame."""
    designs = _visible(job, shot)
    places = [camera.step_to_pixels(d.circumferential_mm, d.lateral_mm) for d in designs] or [
        (0, 0)
    ]
    rows, cols = [p[0] for p in places], [p[1] for p in places]
    return (
        (shot.rows - 1) / 2.0 - (min(rows) + max(rows)) / 2.0,
        (shot.cols - 1) / 2.0 - (min(cols) + max(cols)) / 2.0,
    )
