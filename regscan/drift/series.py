"""One colour on one axis along the run, as one camera (and web edge) saw it."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from regscan.drift.frames import Frames
from regscan.job.job import AXES, Axis, Job
from regscan.offsets.zero import zero_sd_mm

Calibration = Mapping[tuple[str, str, str, Axis], float]  # sd, mm, by camera, edge, ink, axis
UNCALIBRATED: Calibration = {}


@dataclass(frozen=True, slots=True)
class Series:
    """Offsets in the order of the run; arrays of one length, one entry per frame.

    frame      position in the run's list of frames.
    value_mm   NaN where the colour was not found.
    sd_mm      the frame's own doubt as measured; NaN where not known.
    ok, doubtful   how far each value is trusted; neither: missing.
    zero_sd_mm     doubt of the zero all values count from and of the camera's calibration: part
                   of every sd_mm, one error.
    camera_sd_mm   the part of zero_sd_mm that is the camera's own.
    """

    station: int
    ink: str
    camera: str
    edge: str
    axis: Axis
    tolerance_mm: float
    frame: np.ndarray
    value_mm: np.ndarray
    sd_mm: np.ndarray
    ok: np.ndarray
    doubtful: np.ndarray
    zero_sd_mm: float = 0.0
    camera_sd_mm: float = 0.0


def all_series(
    table: np.ndarray, frames: Frames, job: Job, calibration: Calibration = UNCALIBRATED
) -> Iterator[Series]:
    """Every colour the job says a camera should see, on both axes, seen or not.

    The reference colour is among them with its zeros. In order of camera, edge,
    station, axis.
    """
    for camera, edge in _views(table):
        mine = np.flatnonzero((table["camera"] == camera) & (table["edge"] == edge))
        places = np.unique(frames.of_row[mine])
        for ink in expected_inks(job, camera, edge):
            rows = mine[table["ink"][mine] == ink]
            where = np.searchsorted(places, frames.of_row[rows])
            for axis in AXES:
                about = job, ink, camera, edge, axis
                sd = calibration.get((camera, edge, ink, axis))
                if sd is None:  # marks of no edge in frames that name one
                    sd = calibration.get((camera, "", ink, axis), 0.0)
                yield _series(table[rows], where, places, about, sd)


def _views(table: np.ndarray) -> Iterator[tuple[str, str]]:
    """Every camera and edge that rows are of, in order."""
    for camera in np.unique(table["camera"]).tolist():
        for edge in np.unique(table["edge"][table["camera"] == camera]).tolist():
            yield camera, edge


def expected_inks(job: Job, camera: str, edge: str) -> list[str]:
    """Measurable inks a frame of that camera and edge should show, in print order.

    A camera the job does not know (a table from elsewhere) should show them all.
    """
    try:
        seen = {mark.ink for mark in job.marks_seen(camera, edge)}
    except KeyError:
        seen = {mark.ink for mark in job.marks}
    return [s.ink for s in job.press.stations if s.ink in seen and job.ink(s.ink).measurable]


def _series(
    rows: np.ndarray,
    where: np.ndarray,
    places: np.ndarray,
    about: tuple[Job, str, str, str, Axis],
    camera_sd: float,
) -> Series:
    job, ink, camera, edge, axis = about
    value, sd = np.full(len(places), np.nan), np.full(len(places), np.nan)
    value[where], sd[where] = rows[f"{axis}_mm"], rows[f"{axis}_sd_mm"]
    status = np.full(len(places), "missing", dtype="U8")
    status[where] = rows["status"]
    seen = np.isfinite(value)
    return Series(
        station=job.station_of(ink).number,
        ink=ink,
        camera=camera,
        edge=edge,
        axis=axis,
        tolerance_mm=job.tolerance_for(ink).of(axis),
        frame=places,
        value_mm=np.where(status == "missing", np.nan, value),
        sd_mm=sd,
        ok=seen & (status == "ok"),
        doubtful=seen & (status == "doubtful"),
        zero_sd_mm=math.hypot(zero_sd_mm(job, ink, edge, axis), camera_sd),
        camera_sd_mm=camera_sd,
    )
