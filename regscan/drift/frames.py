"""The frames of a run in order, and which row of the offset table belongs to which frame."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from regscan.recording.speedlog import SpeedLog


@dataclass(frozen=True, slots=True)
class Frames:
    """The run's list of frames, in the order they were taken. Arrays of one length.

    time_s, web_m, speed_m_min   NaN where not known.
    of_row   for each row of the offset table, the frame's position in this list.
    notes    what was filled in or could not be, in words.
    """

    name: np.ndarray
    camera: np.ndarray
    time_s: np.ndarray
    web_m: np.ndarray
    speed_m_min: np.ndarray
    of_row: np.ndarray
    notes: tuple[str, ...]

    def __len__(self) -> int:
        """How many frames."""
        return len(self.name)


def list_frames(table: np.ndarray, speed_log: SpeedLog | None) -> Frames:
    """The frames of an offset table, by time, else by web position, else as the table has them.

    Where the table has no speed or web position and a log on the same clock is
    there, they are taken from the log; in the log's gaps they stay unknown.
    """
    first, of_row = _distinct(table["frame"], table["camera"])
    order = _order(table, first)
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    at = first[order]
    frames = {name: table[name][at] for name in ("time_s", "web_m", "speed_m_min")}
    speed, web, notes = _from_log(frames, speed_log)
    return Frames(
        table["frame"][at],
        table["camera"][at],
        frames["time_s"].astype(float),
        web,
        speed,
        place[of_row],
        notes,
    )


def _distinct(name: np.ndarray, camera: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(first row of each frame, which of them each row belongs to).

    A frame's rows mostly follow each other, so only the first of such a stretch is sorted.
    """
    starts = np.flatnonzero(_changes(name, camera))
    order = np.lexsort((camera[starts], name[starts]))
    new = _changes(name[starts][order], camera[starts][order])
    of_start = np.empty_like(order)
    of_start[order] = np.cumsum(new) - 1
    lengths = np.diff(starts, append=len(name))
    return starts[order[new]], np.repeat(of_start, lengths)


def _changes(name: np.ndarray, camera: np.ndarray) -> np.ndarray:
    """Where a row is of another frame than the row before it; always at the first."""
    changed = np.ones(len(name), dtype=bool)
    changed[1:] = (name[1:] != name[:-1]) | (camera[1:] != camera[:-1])
    return changed


def _order(table: np.ndarray, first: np.ndarray) -> np.ndarray:
    for column in ("time_s", "web_m"):
        values = table[column][first]
        if np.isfinite(values).all():
            return np.lexsort((first, values))
    return np.argsort(first, kind="stable")


def _from_log(
    frames: Mapping[str, np.ndarray], log: SpeedLog | None
) -> tuple[np.ndarray, np.ndarray, tuple[str, ...]]:
    """(speed_m_min, web_m, notes): the table's own values first, then the log's."""
    speed, web = frames["speed_m_min"].astype(float), frames["web_m"].astype(float)
    if log is None:
        return speed, web, ()
    timed = np.isfinite(frames["time_s"])
    if not timed.any():
        return speed, web, ("the frames carry no time, so the speed log could not be used",)
    speed = np.where(np.isfinite(speed), speed, log.speed_at(frames["time_s"]))
    if not np.isfinite(web).any():
        web = log.web_at(frames["time_s"])
    return speed, web, ()
