"""A finished run fed to the monitor frame by frame: what it would have said, and when."""

from collections.abc import Iterator

import numpy as np

from regscan.drift.alert import Alert
from regscan.drift.frames import Frames
from regscan.drift.monitor.monitor import Monitor
from regscan.drift.monitor.record import MonitorRules
from regscan.job.job import Job
from regscan.offsets.offset import Offset
from regscan.recording.frame import FrameInfo


def replay(
    table: np.ndarray, frames: Frames, job: Job, rules: MonitorRules | None = None
) -> tuple[Alert, ...]:
    """Every alert that the monitor raises along the run, in order; no hindsight in any.

    table    structured array with OFFSET_COLUMNS; frames   those of the table, in order.
    """
    monitor = Monitor(job, rules)
    return tuple(
        alert for info, offsets in fed(table, frames) for alert in monitor.feed(info, offsets)
    )


def fed(table: np.ndarray, frames: Frames) -> Iterator[tuple[FrameInfo, list[Offset]]]:
    """A table as the monitor is fed: frame after frame with its rows."""
    order = np.argsort(frames.of_row, kind="stable")
    place = frames.of_row[order]
    for rows in np.split(order, np.flatnonzero(np.diff(place)) + 1):
        if len(rows):
            yield _info(frames, int(frames.of_row[rows[0]])), _offsets(table[rows])


def _info(frames: Frames, k: int) -> FrameInfo:
    return FrameInfo(
        name=str(frames.name[k]),
        index=k,
        time_s=_known(frames.time_s[k]),
        web_m=_known(frames.web_m[k]),
        speed_m_min=_known(frames.speed_m_min[k]),
        camera=str(frames.camera[k]),
    )


def _offsets(rows: np.ndarray) -> list[Offset]:
    names = ["station", "ink", "edge", "status", "circumferential_mm", "lateral_mm"]
    return [Offset(*row) for row in rows[names].tolist()]


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
