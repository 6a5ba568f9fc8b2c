"""Frames as they come into a folder: each given out when its file is complete.

The folder is looked at ten times a second rather than being told of changes by the system:
cameras often write to a share, and a system is told nothing of what another machine writes
there. A look costs one `stat` while nothing changes.

A file counts as complete when two looks find the same size and time of change. That alone
is a guess for a writer that pauses; so a frame that then cannot be read whole is given out
again (`again`) until it has not changed for PATIENCE_S.
"""

import os
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from regscan.journal.record import Stamp, stamp_of
from regscan.recording.kinds import is_picture, natural_key

LOOK_S = 0.1  # between two looks
RELIST_S = 2.0  # some file systems keep a folder's time of change this coarsely
RETRY_S = 0.5  # before a frame that could not be read is tried again
PATIENCE_S = 10.0  # without a change, after which a file that cannot be read stays so
TURN = 20  # known files looked at each time
LATER_NS = 1_000_000_000


@dataclass(slots=True)
class _Pending:
    """A file that was seen and is not given out yet; times of the monotonic clock."""

    stamp: Stamp
    changed_s: float
    not_before_s: float
    looks: int = 0


class Arrivals:
    """Follows one folder. known: stamps of frames measured before, by file name."""

    def __init__(
        self,
        folder: Path,
        known: dict[str, Stamp],
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.folder, self.known, self._clock = folder, dict(known), clock
        self._root = folder.resolve()
        self._pending: dict[str, _Pending] = {}
        self._listed_s, self._folder_changed = -RELIST_S, -1
        self._refused: set[str] = set()
        self._failing: dict[str, tuple[Stamp, float]] = {}
        self._turn: list[str] = []
        self.outside: list[str] = []

    def look(self) -> list[Path]:
        """The files that are complete now and were not given out before, in natural order."""
        self._list()
        self._look_over_known()
        complete = [name for name in list(self._pending) if self._complete(name)]
        for name in complete:
            self.known[name] = self._pending.pop(name).stamp
        return [self.folder / name for name in sorted(complete, key=natural_key)]

    @property
    def waiting(self) -> int:
        """Files seen that are not complete yet."""
        return len(self._pending)

    def again(self, path: Path) -> bool:
        """Give a file out once more, since it could not be read whole; False to give it up."""
        now, stamp = self._clock(), stamp_of(path)
        if stamp is None or not self._patient(path.name, stamp, now):
            return False
        self._pending[path.name] = _Pending(stamp, now, now + RETRY_S)
        return True

    def pass_over(self) -> int:
        """Count everything that lies there now as known; how many files that were."""
        self._list()
        count = len(self._pending)
        self.known |= {name: pending.stamp for name, pending in self._pending.items()}
        self._pending.clear()
        return count

    def _patient(self, name: str, stamp: Stamp, now: float) -> bool:
        """Whether it changed not long ago, by this machine's clock: a share has its own."""
        before, since = self._failing.get(name, (self.known.get(name), now))
        if before != stamp:
            since = now  # somebody is still writing
        self._failing[name] = stamp, since
        if now - since < PATIENCE_S:
            return True
        del self._failing[name]
        return False

    def _look_over_known(self) -> None:
        self._turn = self._turn or list(self.known)
        for name in self._turn[-TURN:]:
            before, stamp = self.known[name], stamp_of(self.folder / name)
            if before and stamp and stamp[1] > before[1] + LATER_NS:
                self._see(name, self._clock())
        del self._turn[-TURN:]

    def _list(self) -> None:
        now = self._clock()
        try:
            changed = os.stat(self.folder).st_mtime_ns
            fresh = changed != self._folder_changed or now - self._listed_s >= RELIST_S
            if not fresh:
                return
            with os.scandir(self.folder) as entries:
                names = [entry.name for entry in entries if self._is_frame(entry)]
        except OSError:
            return  # a share that is away comes back
        self._folder_changed, self._listed_s = changed, now
        for name in names:
            if name not in self.known:
                self._see(name, now)

    def _is_frame(self, entry: "os.DirEntry[str]") -> bool:
        if entry.name.startswith(".") or not is_picture(Path(entry.name)):
            return False
        if entry.name in self._refused:
            return False
        if entry.is_symlink() and not self._inside(entry.name):
            self._refused.add(entry.name)
            self.outside.append(entry.name)
            return False
        return entry.name in self.known or entry.is_file()

    def _inside(self, name: str) -> bool:
        """Whether a link leads to a file in this folder; one that leads elsewhere is not read."""
        try:
            return (self.folder / name).resolve(strict=True).is_relative_to(self._root)
        except (OSError, RuntimeError):
            return False

    def _see(self, name: str, now: float) -> None:
        if name not in self._pending:
            self._pending[name] = _Pending(stamp_of(self.folder / name), now, now)

    def _complete(self, name: str) -> bool:
        pending, now = self._pending[name], self._clock()
        stamp = stamp_of(self.folder / name)
        if stamp is None:
            del self._pending[name]  # gone again
            return False
        if stamp != pending.stamp:
            self._pending[name] = _Pending(stamp, now, now)
            return False
        pending.looks += 1
        return pending.looks >= 2 and stamp[0] > 0 and now >= pending.not_before_s
