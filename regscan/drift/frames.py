"""The frames of a run in order, and which row of the offset table belongs to which frame."""

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
    keys = table[["frame", "camera"]]
    _, first, of_row = np.unique(keys, return_index=True, return_inverse=True)
    order = _order(table[first], first)
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    frames = table[first[order]]
    time_s = frames["time_s"].astype(float)
    speed, web, notes = _from_log(frames, speed_log)
    return Frames(
        frames["frame"], frames["camera"], time_s, web, speed, place[of_row.reshape(-1)], notes
    )


def _order(frames: np.ndarray, first: np.ndarray) -> np.ndarray:
    for column in ("time_s", "web_m"):
        if np.isfinite(frames[column]).all():
            return np.lexsort((first, frames[column]))
    return np.argsort(first, kind="stable")


def _from_log(
    frames: np.ndarray, log: SpeedLog | None
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
