"""What is known of a frame before it is measured, and whether it can be tried at all."""

import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from regscan.recording.clock import Pitch
from regscan.recording.frame import FrameInfo
from regscan.watch.kept import repeated
from regscan.watch.listing import LATE_S, Listing
from regscan.watch.session import Session

TRIES = 2  # a frame that twice, alone, ended the process measuring it is left alone


@dataclass(frozen=True, slots=True)
class Before:
    """What came before a frame. same: frames of its file name; count: frames in all."""

    same: int
    count: int


class Intake:
    """Frames of one folder on their way in.

    say   tells people what is wrong with the lists beside the frames.
    """

    def __init__(self, folder: Path, pitch: Pitch, say: Callable[[str], None]) -> None:
        self._listing, self._pitch, self._say = Listing(folder), pitch, say
        self._seen_s: dict[Path, float] = {}
        self.deaths: Counter[Path] = Counter()

    def seen(self, path: Path) -> None:
        """It is complete, from now on."""
        self._seen_s.setdefault(path, time.monotonic())

    def done(self, path: Path) -> None:
        """It is measured, or given up."""
        self._seen_s.pop(path, None)
        self.deaths.pop(path, None)

    def info(self, path: Path, before: Before) -> FrameInfo | None:
        """What is known of a frame; None while its line in the list is still awaited."""
        self.seen(path)
        times, late = before.same, time.monotonic() - self._seen_s[path] > LATE_S
        name = repeated(path.name, times)
        listed = None if times else self._listing.of(path.name, late)
        if self._listing.trouble:
            self._say(self._listing.trouble)
            self._listing.trouble = ""
        if listed is not None:
            return replace(listed, name=name)
        if self._listing.exists and not times and not late:
            return None
        step_s, step_m, count = self._pitch.every_s, self._pitch.every_m, before.count
        time_s = None if step_s is None else count * step_s
        return FrameInfo(name, count, time_s, None if step_m is None else count * step_m)

    def unfit(self, path: Path, info: FrameInfo, session: Session) -> tuple[str, str] | None:
        """Why a frame cannot even be tried, and the cure; None for one that can."""
        if info.camera not in session.given.cameras:
            what = f"comes from camera {info.camera!r}" if info.camera else "names no camera"
            return what, "name one of the job's cameras in the camera column of frames.csv"
        if self.deaths[path] >= TRIES:
            return "ended the process that measured it", "look at the file, or leave it out"
        return None
