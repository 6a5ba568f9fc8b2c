"""What frames.csv says of frames while it is still being written: whole lines only, each once."""

import tempfile
from dataclasses import replace
from pathlib import Path

from regscan.errors import BadFrames
from regscan.recording.frame import FrameInfo
from regscan.recording.framelist import NAME, read_frame_list
from regscan.units import SECONDS_PER_MINUTE

LATE_S = 0.5  # a frame waits this long for its line, where there is a list


class Listing:
    """The list of a folder, read on as it grows.

    trouble   what is wrong with its newest lines, told once; "" for nothing.
    """

    def __init__(self, folder: Path) -> None:
        self._path = folder / NAME
        self._read, self._header = 0, b""
        self._infos: dict[str, FrameInfo] = {}
        self._web: dict[tuple[str, str], FrameInfo] = {}
        self.trouble = ""

    @property
    def exists(self) -> bool:
        """Whether the folder has a list."""
        return self._path.is_file() and not self._path.is_symlink()

    def of(self, name: str) -> FrameInfo | None:
        """What it says of a frame; None where it has no line for it yet."""
        if name not in self._infos and self.exists:
            self._read_on()
        return self._infos.get(name)

    def _read_on(self) -> None:
        try:
            size = self._path.stat().st_size
            if size < self._read:  # begun anew
                self._read, self._header = 0, b""
            if size == self._read:
                return
            with self._path.open("rb") as file:
                file.seek(self._read)
                text = file.read(size - self._read)
        except OSError:
            return
        end = text.rfind(b"\n") + 1  # a line without its end may be half a number
        self._take(text[:end])
        self._read += end

    def _take(self, text: bytes) -> None:
        if not text:
            return
        if not self._header:
            self._header, _, text = text.partition(b"\n")
            if not text.strip():
                return
        for info in self._parsed(self._header + b"\n" + text):
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
        if info.web_m is None and info.time_s is not None and info.speed_m_min is not None:
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
