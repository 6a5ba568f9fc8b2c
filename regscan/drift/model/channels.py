"""Offsets of one place along the press as frames x stations, for shift, skew and width.

Frames that show the two web edges at one moment are taken together:
    circumferential, lateral   mean of both edges
    skew                       drive side minus operator side, circumferential
    width                      drive side minus operator side, lateral
"""

from dataclasses import dataclass
from typing import get_args

import numpy as np

from regscan.drift.behaviour import Channel
from regscan.drift.frames import Frames
from regscan.drift.series import expected_inks
from regscan.job.job import Job

CHANNELS: tuple[Channel, ...] = get_args(Channel)
PAIRED_SHARE = 0.5
"""The edges are taken together when at least this share of the moments shows both."""


@dataclass(frozen=True)
class Scene:
    """What one place along the press (a camera, or one over each web edge) saw.

    camera      its name; of two cameras over the two edges, the first.
    edges       ("operator", "drive") when taken together, else the one edge seen.
    stations    numbers of the colours seen, in print order; the reference is one of them.
    reference   index of the reference in `stations`.
    place       position of each moment in the run's list of frames.
    value_mm    per channel: moments x stations, NaN where not known; the reference is 0.
    """

    camera: str
    edges: tuple[str, ...]
    inks: tuple[str, ...]
    stations: tuple[int, ...]
    reference: int
    place: np.ndarray
    value_mm: dict[Channel, np.ndarray]

    def __len__(self) -> int:
        """How many moments."""
        return len(self.place)


def scenes_of(table: np.ndarray, frames: Frames, job: Job) -> tuple[Scene, ...]:
    """One scene per camera place, the one with the most stations and moments first.

    Scenes without the reference, or with no other colour, are left out: they say
    nothing of register.
    """
    groups: dict[tuple[float, ...] | str, list[str]] = {}
    for camera in sorted(set(frames.camera.tolist())):
        groups.setdefault(_post(job, camera), []).append(camera)
    scenes = [_scene(table, frames, job, cameras) for cameras in groups.values()]
    found = [scene for scene in scenes if scene is not None]
    return tuple(sorted(found, key=lambda s: (-len(s.stations), -len(s))))


def _post(job: Job, camera: str) -> tuple[float, ...] | str:
    """What makes two cameras stand at one place: the same station before and path from it."""
    try:
        post = job.press.camera(camera)
    except KeyError:
        return camera
    return float(post.after_station), post.path_m


def _scene(table: np.ndarray, frames: Frames, job: Job, cameras: list[str]) -> Scene | None:
    inks = expected_inks(job, cameras[0], "")
    rows = np.flatnonzero(np.isin(table["camera"], cameras) & np.isin(table["ink"], inks))
    if job.reference not in inks or len(inks) < 2 or not len(rows):
        return None
    moment, place = _moments(frames, frames.of_row[rows])
    column = np.array([inks.index(ink) for ink in table["ink"][rows].tolist()])
    edges = sorted(set(table["edge"][rows].tolist()))
    seen = {
        edge: _grids(table, rows[pick], (moment[pick], column[pick]), (len(place), len(inks)))
        for edge in edges
        for pick in [np.flatnonzero(table["edge"][rows] == edge)]
    }
    used, values = _channels(seen, inks.index(job.reference))
    numbers = tuple(job.station_of(ink).number for ink in inks)
    kept = np.isfinite(values["circumferential"]).any(axis=1)
    kept |= np.isfinite(values["lateral"]).any(axis=1)
    return Scene(
        camera=cameras[0],
        edges=used,
        inks=tuple(inks),
        stations=numbers,
        reference=inks.index(job.reference),
        place=place[kept],
        value_mm={name: value[kept] for name, value in values.items()},
    )


def _moments(frames: Frames, frame_of_row: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(moment of each row, a frame of each moment): frames of one web position are one moment."""
    used = np.unique(frame_of_row)
    at = frames.web_m[used] if np.isfinite(frames.web_m[used]).all() else frames.time_s[used]
    if np.isfinite(at).all():
        steps = np.diff(at)
        positive = steps[steps > 0]
        apart = 0.1 * float(np.median(positive)) if len(positive) else 0.0
        new = np.concatenate(([True], np.abs(steps) > min(apart, 1e-3)))
    else:
        new = np.ones(len(used), dtype=bool)
    moment_of_frame = np.cumsum(new) - 1
    return moment_of_frame[np.searchsorted(used, frame_of_row)], used[new]


def _grids(
    table: np.ndarray,
    rows: np.ndarray,
    where: tuple[np.ndarray, np.ndarray],
    shape: tuple[int, int],
) -> tuple[np.ndarray, np.ndarray]:
    """(circumferential, lateral) of one edge as moments x stations; doubtful rows are left out."""
    good = table["status"][rows] == "ok"
    both = []
    for axis in ("circumferential", "lateral"):
        grid = np.full(shape, np.nan)
        grid[where[0][good], where[1][good]] = table[f"{axis}_mm"][rows[good]]
        both.append(grid)
    return both[0], both[1]


def _channels(
    seen: dict[str, tuple[np.ndarray, np.ndarray]], reference: int
) -> tuple[tuple[str, ...], dict[Channel, np.ndarray]]:
    """The edges used, and the channels they give."""
    if {"operator", "drive"} <= set(seen):
        operator, drive = seen["operator"], seen["drive"]
        together = np.isfinite(operator[0]).any(1) & np.isfinite(drive[0]).any(1)
        if together.mean() >= PAIRED_SHARE:
            return ("operator", "drive"), {
                "circumferential": _zero_at((operator[0] + drive[0]) / 2.0, reference),
                "lateral": _zero_at((operator[1] + drive[1]) / 2.0, reference),
                "skew": _zero_at(drive[0] - operator[0], reference),
                "width": _zero_at(drive[1] - operator[1], reference),
            }
    edge = max(seen, key=lambda name: int(np.isfinite(seen[name][0]).sum()))
    values = seen[edge]
    return (edge,), {
        "circumferential": _zero_at(values[0], reference),
        "lateral": _zero_at(values[1], reference),
    }


def _zero_at(values: np.ndarray, reference: int) -> np.ndarray:
    """The reference is zero against itself wherever another colour was measured."""
    values = values.copy()
    others = np.delete(values, reference, axis=1)
    values[:, reference] = np.where(np.isfinite(others).any(axis=1), 0.0, np.nan)
    return values
