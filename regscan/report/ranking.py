"""Which frames of a run are worth a look, worst first."""

import numpy as np

from regscan.job.job import AXES, Job

Key = tuple[str, str]  # frame, camera
APART = 3  # frames: of closer neighbours only the worst is shown, they look alike


def key_of(row: np.ndarray) -> Key:
    """The frame and camera of a row of a run's table."""
    return str(row["frame"]), str(row["camera"])


def share_of_tolerance(offsets: np.ndarray, job: Job) -> np.ndarray:
    """Larger of both axes' |offset| over its tolerance, good rows only; NaN for the others."""
    share = np.zeros(len(offsets))
    for axis in AXES:
        limits = {str(i): job.tolerance_for(str(i)).of(axis) for i in np.unique(offsets["ink"])}
        limit = np.array([limits[str(ink)] for ink in offsets["ink"]])
        share = np.maximum(share, np.abs(offsets[f"{axis}_mm"]) / limit)
    return np.where(offsets["status"] == "ok", share, np.nan)


def worst_first(offsets: np.ndarray, job: Job) -> list[Key]:
    """Every frame once: those outside by how far, then those with marks missing or doubtful
    by how many, then the others by how near they come to their tolerance."""
    share = share_of_tolerance(offsets, job)
    weak: dict[Key, int] = {}
    worst: dict[Key, float] = {}
    for row, one in zip(offsets, share, strict=True):
        key = key_of(row)
        weak[key] = weak.get(key, 0) + (str(row["status"]) != "ok")
        worst[key] = max(worst.get(key, 0.0), float(np.nan_to_num(one)))
    return sorted(worst, key=lambda key: _rank(worst[key], weak[key]))


def _rank(worst: float, weak: int) -> tuple[float, ...]:
    outside = worst if worst > 1.0 else 0.0
    return -outside, -weak, -worst


def spread_out(order: list[Key], offsets: np.ndarray, most: int) -> list[Key]:
    """The first `most` of the order, without near neighbours of one already taken.

    A run of no more frames than that gives them all.
    """
    if len(order) <= most:
        return order
    place = {key: k for k, key in enumerate(dict.fromkeys(map(key_of, offsets)))}
    taken: list[Key] = []
    for key in order:
        near = (o[1] == key[1] and abs(place[o] - place[key]) < APART for o in taken)
        if not any(near):
            taken.append(key)
        if len(taken) == most:
            break
    return taken
