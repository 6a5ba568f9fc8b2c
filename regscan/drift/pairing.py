"""Two series of one colour, one per web edge, as their mean and their difference.

Offsets of both edges on the same piece of web share what the station did there, so they
are paired first: the mean then keeps the common wander in its doubt, and the difference
is rid of it.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from regscan.drift.frames import Frames
from regscan.drift.series import Series
from regscan.job.job import Job

NEAR = 0.25
"""Share of a repeat by which two frames of two cameras may lie apart on the web."""


@dataclass(frozen=True, slots=True)
class Both:
    """One colour and axis at both edges; mean and difference only where frames pair."""

    operator: Series
    drive: Series
    mean: Series | None
    difference: Series | None


def both_edges(series: list[Series], frames: Frames, job: Job) -> Iterator[Both]:
    """Every operator-side series with its drive-side twin, of one camera or of two
    cameras after one station; the reference, which is zero at both, is left out."""
    for operator in series:
        if operator.edge != "operator" or operator.ink == job.reference:
            continue
        twin = _twin(operator, series, job)
        if twin:
            yield _both(operator, twin, frames, job)


def _twin(operator: Series, series: list[Series], job: Job) -> Series | None:
    about = operator.ink, operator.axis
    drives = [s for s in series if s.edge == "drive" and (s.ink, s.axis) == about]
    own = [s for s in drives if s.camera == operator.camera]
    if own or any(
        s.camera == d.camera and s.edge == "operator" and (s.ink, s.axis) == about
        for s in series
        for d in drives
    ):
        return own[0] if own else None
    station = _after(operator.camera, job)
    return next((s for s in drives if station and _after(s.camera, job) == station), None)


def _after(camera: str, job: Job) -> int:
    """The station a camera stands behind; 0 for a camera the job does not know."""
    try:
        return job.press.camera(camera).after_station
    except KeyError:
        return 0


def _both(operator: Series, drive: Series, frames: Frames, job: Job) -> Both:
    one, other = _same_web(operator, drive, frames, job)
    seen = [np.isfinite(operator.value_mm[one]), np.isfinite(drive.value_mm[other])]
    least = min(np.isfinite(operator.value_mm).sum(), np.isfinite(drive.value_mm).sum())
    if not least or 2 * (seen[0] & seen[1]).sum() < least:
        return Both(operator, drive, None, None)
    sd = np.hypot(operator.sd_mm[one], drive.sd_mm[other])
    zero = float(np.hypot(operator.zero_sd_mm, drive.zero_sd_mm))
    ok = operator.ok[one] & drive.ok[other]
    usable = seen[0] & seen[1]
    difference = replace(
        operator,
        frame=operator.frame[one],
        value_mm=drive.value_mm[other] - operator.value_mm[one],
        sd_mm=sd,
        ok=ok,
        doubtful=usable & ~ok,
        zero_sd_mm=zero,
    )
    middle = (drive.value_mm[other] + operator.value_mm[one]) / 2.0
    mean = replace(difference, value_mm=middle, sd_mm=sd / 2.0, zero_sd_mm=zero / 2.0)
    return Both(operator, drive, mean, difference)


def _same_web(
    operator: Series, drive: Series, frames: Frames, job: Job
) -> tuple[np.ndarray, np.ndarray]:
    """(places in operator, places in drive) of offsets on the same piece of web."""
    if operator.camera == drive.camera:
        _, one, other = np.intersect1d(operator.frame, drive.frame, return_indices=True)
        if len(one):
            return one, other
    return _by_place(_printed_m(operator, frames, job), _printed_m(drive, frames, job), job)


def _printed_m(series: Series, frames: Frames, job: Job) -> np.ndarray:
    """Web position of each frame, counted at the camera's station; NaN where not known."""
    try:
        back = job.press.camera(series.camera).path_m
    except KeyError:
        back = 0.0
    return np.asarray(frames.web_m[series.frame] - back)


def _by_place(one_m: np.ndarray, other_m: np.ndarray, job: Job) -> tuple[np.ndarray, np.ndarray]:
    """Nearest in both directions and near enough; nothing where positions are not known."""
    none = np.array([], dtype=int)
    if not (len(one_m) and len(other_m)):
        return none, none
    if not (np.isfinite(one_m).all() and np.isfinite(other_m).all()):
        return none, none
    there, back = _nearest(one_m, other_m), _nearest(other_m, one_m)
    mine = np.arange(len(one_m))
    near = np.abs(other_m[there] - one_m) <= NEAR * job.press.repeat_mm / 1000.0
    kept = near & (back[there] == mine)
    return mine[kept], there[kept]


def _nearest(of: np.ndarray, among: np.ndarray) -> np.ndarray:
    order = np.argsort(among, kind="stable")
    ranked = among[order]
    right = np.clip(np.searchsorted(ranked, of), 1, max(len(ranked) - 1, 1))
    left = right - 1
    right = np.minimum(right, len(ranked) - 1)
    closer = np.abs(ranked[left] - of) <= np.abs(ranked[right] - of)
    return np.asarray(order[np.where(closer, left, right)])
