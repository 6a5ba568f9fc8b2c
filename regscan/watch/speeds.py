"""speed_log.csv while it is being written: the web's speed and place at a frame's time."""

import math
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np

from regscan.errors import BadSpeedLog
from regscan.recording.frame import FrameInfo
from regscan.recording.speedlog import SpeedLog, read_speed_log
from regscan.watch.tail import Tail

NAME = "speed_log.csv"


class Speeds:
    """The log of a folder, read on as it grows. trouble: what is wrong with its newest lines."""

    def __init__(self, folder: Path) -> None:
        self._tail = Tail(folder / NAME)
        self._last = b""  # a log is read from two rows on
        self._log: SpeedLog | None = None
        self.trouble = ""

    @property
    def exists(self) -> bool:
        """Whether the folder has a log."""
        return self._tail.exists

    def reaches(self, time_s: float) -> bool:
        """Whether it goes as far as that time by now."""
        if self._log is None or self._log.time_s[-1] < time_s:
            self._read_on()
        return self._log is not None and bool(self._log.time_s[-1] >= time_s)

    def filled(self, info: FrameInfo) -> FrameInfo:
        """The frame with speed and place where it has none and the log knows them."""
        log, time_s = self._log, info.time_s
        if log is None or time_s is None:
            return info
        speed, web = info.speed_m_min, info.web_m
        if speed is None:
            speed = _known(log.speed_at(time_s))
        if web is None:
            web = _known(log.web_at(time_s))
        return replace(info, speed_m_min=speed, web_m=web)

    def _read_on(self) -> None:
        header, _, lines = self._tail.news().partition(b"\n")
        if not lines:
            return
        lines = self._last + lines
        if lines.count(b"\n") < 2:
            self._last = lines
            return
        with tempfile.TemporaryDirectory() as folder:
            part = Path(folder) / NAME
            part.write_bytes(header + b"\n" + lines)
            try:
                news = read_speed_log(part)
            except BadSpeedLog as bad:
                self.trouble = f"{NAME}: {bad.problems[0]}"
                return
        self._last = lines.splitlines(keepends=True)[-1]
        self._log = _joined(self._log, news)


def _joined(log: SpeedLog | None, news: SpeedLog) -> SpeedLog:
    """Both logs as one; one that goes back in time was begun anew."""
    if log is None or news.time_s[0] < log.time_s[-1]:
        return news
    return SpeedLog.of(
        np.concatenate([log.time_s, news.time_s[1:]]),
        np.concatenate([log.speed_m_min, news.speed_m_min[1:]]),
    )


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None
