"""What frames.csv says of frames while it is still being written: whole lines only, each once."""

import tempfile
from dataclasses import replace
from pathlib import Path

from regscan.errors import BadFrames
from regscan.recording.frame import FrameInfo
from regscan.recording.framelist import NAME, read_frame_list
from regscan.units import SECONDS_PER_MINUTE
from regscan.watch.speeds import Speeds
from regscan.watch.tail import Tail

LATE_S = 0.5  # a frame waits this long for its line, where there is a list


class Listing:
    """The list of a folder and its speed log, read on as they grow.

    trouble   what is wrong with its newest lines, told once; "" for nothing.
    """

    def __init__(self, folder: Path) -> None:
        self._tail, self._speeds = Tail(folder / NAME), Speeds(folder)
        self._infos: dict[str, FrameInfo] = {}
        self._web: dict[tuple[str, str], FrameInfo] = {}
        self.trouble = ""

    @property
    def exists(self) -> bool:
        """Whether the folder has a list."""
        return self._tail.exists

    def of(self, name: str, late: bool = True) -> FrameInfo | None:
        """What is known of a frame; None where it has no line yet.

        late   whether the speed log is no longer waited for, where there is one.
        """
        if name not in self._infos and self.exists:
            self._take(self._tail.news())
        info = self._infos.get(name)
        lacks = info is not None and None in (info.web_m, info.speed_m_min)
        if info is None or not lacks or info.time_s is None or not self._speeds.exists:
            return info
        reached = self._speeds.reaches(info.time_s)
        self.trouble, self._speeds.trouble = self.trouble or self._speeds.trouble, ""
        return self._speeds.filled(info) if reached or late else None

    def _take(self, text: bytes) -> None:
        if text:
            for info in self._parsed(text):
                self._infos[info.name] = self._with_web(info)

    def _parsed(self, text: bytes) -> tuple[FrameInfo, ...]:
        """The lines, by the reader of whole lists; a wrong one is told and costs only itself."""
        with tempfile.TemporaryDirectory() as folder:
            part = Path(folder) / NAME
            part.write_bytes(text)
            try:
                return read_frame_list(part).infos
            except BadFrames as bad:
                lines = text.splitlines(keepends=True)
                if len(lines) > 2:  # the header and one line
                    one_by_one = [self._parsed(lines[0] + line) for line in lines[1:]]
                    return tuple(info for infos in one_by_one for info in infos)
                self.trouble = f"{NAME}: {bad.problems[0]}"
                return ()

    def _with_web(self, info: FrameInfo) -> FrameInfo:
        """Web positions from speeds, where the list has those and no positions (trapezoid)."""
        key = info.camera, info.edge
        before = self._web.get(key)
        told = info.time_s is not None and info.speed_m_min is not None
        if info.web_m is None and told and not self._speeds.exists:
            assert info.time_s is not None
            assert info.speed_m_min is not None
            web = 0.0 if before is None else _further(before, info.time_s, info.speed_m_min)
            info = replace(info, web_m=web)
        self._web[key] = info
        return info


def _further(before: FrameInfo, time_s: float, speed_m_min: float) -> float | None:
    """Web position a while after another frame; None where that one's is not known."""
    if before.web_m is None or before.time_s is None or before.speed_m_min is None:
        return None
    mean_m_s = 0.5 * (speed_m_min + before.speed_m_min) / SECONDS_PER_MINUTE
    return before.web_m + mean_m_s * (time_s - before.time_s)
