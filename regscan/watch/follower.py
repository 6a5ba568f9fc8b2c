"""The thread that follows the folder: new frames to the measuring process, results to the desk.

Nothing here waits for pixels: measuring is in other processes, the page in another thread, so
a burst of frames is worked off while both answer.
"""

import threading
import time
from collections import deque
from collections.abc import Callable
from concurrent.futures import Future, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from regscan.errors import RegscanError
from regscan.journal.record import decoded, encoded, stamp_of
from regscan.measuring import MeasuredFrame
from regscan.recording.clock import Pitch
from regscan.recording.sources import FrameSource
from regscan.watch.arrivals import LOOK_S, Arrivals
from regscan.watch.bench import Draw
from regscan.watch.desk import Desk
from regscan.watch.entry import Entry
from regscan.watch.intake import Before, Intake
from regscan.watch.kept import known_frames
from regscan.watch.session import Given, Session

TELL_S = 0.25  # at most so often while a burst is worked off
ADVISE_S = 1.0
DRAW_S = 3.0  # drawing takes as long as measuring a frame or two
ALIVE_S = 2.0  # at least so often, so that a page knows it is not cut off
AGAIN_S = 2.0  # after a disk was full


class Workers(Protocol):
    """Somebody who measures and draws; regscan.workers.Crew, or a stand-in."""

    processes: int

    def submit(self, thing: object) -> "Future[list[bytes]]":
        """Begin with a thing."""

    def close(self) -> None:
        """No more of it."""


@dataclass(slots=True)
class _Job:
    """A frame under way."""

    path: Path
    source: FrameSource
    future: "Future[list[bytes]]"


@dataclass(slots=True)
class _Times:
    """When things were last done, monotonic clock.

    stale     frames were measured since the moves were last told.
    changed   the number of frames that wait has changed since it was last told.
    """

    told: float = 0.0
    advised: float = 0.0
    drawn: float = 0.0
    stale: bool = False
    changed: bool = False


@dataclass
class Follower:
    """Follows one folder for a desk.

    hire    workers for a job.
    pitch   steps between frames that frames.csv says nothing of.
    """

    desk: Desk
    folder: Path
    hire: Callable[[Given], Workers]
    pitch: Pitch = field(default_factory=Pitch)

    def __post_init__(self) -> None:
        self.arrivals = Arrivals(self.folder, known_frames(self.desk.out))
        self._intake = Intake(self.folder, self.pitch, self.desk.trouble)
        self._session: Session = self.desk.session
        self._crew = self.hire(self._session.given)
        self._queue: deque[Path] = deque()
        self._one_by_one = 0  # frames to be measured alone, since one of them ends processes
        self._under_way: deque[_Job] = deque()
        self._drawing: tuple[str, Future[list[bytes]]] | None = None
        self._to_draw: tuple[Entry, FrameSource] | None = None
        self._times = _Times()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="follower", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self) -> None:
        """End; what was not measured yet is measured at the next start."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join()
        self._crew.close()

    @property
    def behind(self) -> int:
        """Complete frames that are not measured yet."""
        return len(self._queue) + len(self._under_way)

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                self.step()
            except BrokenProcessPool:
                self._begin_anew()
            except RegscanError as bad:
                self._stand_still(f"Frames wait to be measured. {bad}")
                self._stop.wait(AGAIN_S)
            except Exception as fault:
                self._stand_still(f"Measuring has stopped ({fault!r}): start regscan watch again.")
                raise

    def _stand_still(self, words: str) -> None:
        self.desk.fault = words
        self.desk.tell()

    def step(self) -> None:
        """One look, and everything that is due."""
        if self.desk.session is not self._session:
            self._change_job()
        for path in self.arrivals.look():
            self._queue.append(path)
            self._intake.seen(path)
        for name in self.arrivals.outside:
            self.desk.trouble(f"{name} is a link to a file outside the watched folder: not read")
        self.arrivals.outside.clear()
        self._begin()
        self._pause()
        self._collect()
        self._draw()
        if self.desk.queued != self.behind:
            self.desk.queued, self._times.changed = self.behind, True
        self._tell()

    def _begin(self) -> None:
        most = 1 if self._one_by_one else 2 * self._crew.processes
        while self._queue and len(self._under_way) < most:
            path = self._queue[0]
            info = self._intake.info(path, self._before(path))
            if info is None:
                return  # its line in frames.csv is awaited
            if why := self._intake.unfit(path, info, self._session):
                unfit = MeasuredFrame(info, why=why[0], cure=why[1])
                if not self._take(encoded(unfit, stamp_of(path))):
                    return
                self._finished(self._queue.popleft())
                continue
            source = FrameSource(info, path)
            future = self._crew.submit(source)
            self._queue.popleft()
            self._under_way.append(_Job(path, source, future))

    def _finished(self, path: Path) -> None:
        self._intake.done(path)
        self._one_by_one = max(self._one_by_one - 1, 0)

    def _before(self, path: Path) -> Before:
        session = self._session
        same = session.names[path.name] + sum(job.path == path for job in self._under_way)
        return Before(same, session.memory.measured + session.unusable + len(self._under_way))

    def _pause(self) -> None:
        """Until the next look, or until the oldest frame under way is measured."""
        if self._under_way:
            wait([self._under_way[0].future], timeout=LOOK_S)
        else:
            self._stop.wait(LOOK_S)

    def _collect(self) -> None:
        while self._under_way and self._under_way[0].future.done():
            (record,) = self._under_way[0].future.result()
            job = self._under_way[0]
            # Kept first: a full disk leaves the frame where it is, to be tried again.
            if not (decoded(record).why and self.arrivals.again(job.path)):
                if not self._take(record):
                    return  # there is a new job: it is measured for that
                self._remember(job.source)
            self._finished(job.path)
            self._under_way.popleft()

    def _take(self, record: bytes) -> bool:
        if self.desk.frame(record, self._session) is None:
            return False
        self._times.stale = True
        self.desk.fault = ""
        return True

    def _remember(self, source: FrameSource) -> None:
        newest = self._session.memory.newest
        if newest is not None and newest.info.name == source.info.name:
            self._to_draw = newest, source

    def _draw(self) -> None:
        """The newest frame, marked up: when nothing else is to be done, or now and then."""
        if self._drawing and self._drawing[1].done():
            name, future = self._drawing
            self._drawing = None
            if picture := future.result()[0]:
                self.desk.show(name, picture)
        now = time.monotonic()
        busy = self.behind and now - self._times.drawn < DRAW_S
        if self._drawing or self._to_draw is None or busy:
            return
        (entry, source), self._to_draw = self._to_draw, None
        self._times.drawn = now
        # Its rows may count from a newer zero by now than when they were measured.
        job = self._session.job
        task = Draw(source, entry.offsets, entry.marks, job)
        self._drawing = source.info.name, self._crew.submit(task)

    def _tell(self) -> None:
        now, times = time.monotonic(), self._times
        if times.stale and (not self.behind or now - times.advised > ADVISE_S):
            times.stale = times.changed = False
            times.advised = times.told = now
            self.desk.advise()
        elif now - times.told > (TELL_S if times.stale or times.changed else ALIVE_S):
            times.changed, times.told = False, now
            self.desk.tell()

    def _change_job(self) -> None:
        """Another job: what is under way is measured for it, and nothing of the old one drawn."""
        self._session = self.desk.session
        self._crew.close()
        self._crew = self.hire(self._session.given)
        self._put_back()

    def _begin_anew(self) -> None:
        """A measuring process has died: hire others, and try what was under way again.

        Which frame ended it is only known when it was alone, so they go one by one.
        """
        self.desk.trouble("A measuring process was ended by the system; it was started anew")
        if len(self._under_way) == 1:
            self._intake.deaths[self._under_way[0].path] += 1
        self._one_by_one = max(self._one_by_one, len(self._under_way))
        self._crew.close()
        self._crew = self.hire(self._session.given)
        self._put_back()

    def _put_back(self) -> None:
        self._queue.extendleft(job.path for job in reversed(self._under_way))
        self._under_way.clear()
        self._drawing = self._to_draw = None
