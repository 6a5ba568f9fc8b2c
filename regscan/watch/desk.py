"""Where the follower, the page and the table meet: one session at a time, safe for threads."""

import math
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from regscan.errors import RegscanError
from regscan.job.job import AXES
from regscan.journal.record import FrameRecord, decoded
from regscan.verdict.movelog import Made
from regscan.watch.finish import finish
from regscan.watch.kept import EventLog, open_job
from regscan.watch.refused import Refused
from regscan.watch.session import Given, Session
from regscan.watch.telling import Around, tell
from regscan.watch.watched import Event, Watched

NAMES_S = 0.5  # between two looks for job files
MOST_MM = 50.0  # no register move is longer; beyond it is a slip of the pen


@dataclass(frozen=True, slots=True)
class Jobs:
    """The jobs that may be asked for: their files' names, and how one is opened.

    open   raises BadJob or BadCamera.
    """

    names: Callable[[], Sequence[str]]
    open: Callable[[str], Given]


class Desk:
    """Holds the session; every change calls `changed` (from whichever thread made it)."""

    def __init__(self, out: Path, given: Given, jobs: Jobs, folder: Path) -> None:
        self._lock = threading.RLock()
        self.out, self.jobs, self.folder = out, jobs, folder
        self.log = EventLog(out)
        self._version, self._arrived_s = 0, math.nan
        self._names: tuple[str, ...] = ()
        self._names_s = -math.inf
        self.queued = 0
        self.picture: tuple[int, str, bytes] = (0, "", b"")
        self.changed: Callable[[], None] = lambda: None
        self.fault = ""
        self.session = self._open(given, anew=False)

    def _open(self, given: Given, anew: bool) -> Session:
        kept = open_job(self.out, given.origin, anew)
        session = Session(given, kept, self.log)
        session.go_on()
        session.advise()
        how = "Going on with" if kept.continued else "Watching with"
        frames = f", {session.memory.measured} frames measured before" if kept.continued else ""
        session.say("new job" if anew else "started", f"{how} job {given.job.name!r}{frames}")
        return session

    def watched(self) -> Watched:
        """Everything as it is now."""
        with self._lock:
            age = time.monotonic() - self._arrived_s
            around = Around(
                self._version,
                self.queued,
                None if math.isnan(age) else age,
                self.picture[:2],
                self._job_names(),
                self.fault,
            )
            return tell(self.session, around)

    def _job_names(self) -> tuple[str, ...]:
        """Looked up now and then: the folder may be a share, and is not asked for every page."""
        now = time.monotonic()
        if now - self._names_s > NAMES_S:
            self._names, self._names_s = tuple(self.jobs.names()), now
        return self._names

    def events_after(self, number: int) -> list[Event]:
        """The log from there on."""
        with self._lock:
            return self.log.after(number)

    def frame(self, record: bytes, session: Session) -> FrameRecord | None:
        """Keep and take in a measured frame; None where its session is no longer the one here.

        Raises BadOutput when it cannot be kept.
        """
        found = decoded(record)
        with self._lock:
            if session is not self.session:
                return None
            session.kept.append(record)
            session.add(found)
            self._arrived_s = time.monotonic()
        return found

    def advise(self) -> None:
        """Bring the moves up to date, and tell everybody."""
        with self._lock:
            self.session.advise()
        self.tell()

    def tell(self) -> None:
        """Something has changed."""
        with self._lock:
            self._version += 1
        self.changed()

    def trouble(self, words: str) -> None:
        """Put what went wrong into the log."""
        with self._lock:
            self.session.say("trouble", words)
        self.tell()

    def show(self, name: str, picture: bytes) -> None:
        """The newest marked-up frame."""
        with self._lock:
            self.picture = (self.picture[0] + 1, name, picture)
        self.tell()

    def move_made(self, station: int, axis: str, move_mm: float) -> None:
        """Somebody made a move. Raises Refused for one that no station can make."""
        with self._lock:
            self.session.made(self._move(station, axis, move_mm))
        self.tell()

    def waited(self) -> None:
        """Somebody says that the web has passed. Raises Refused."""
        with self._lock:
            self.session.waited()
        self.tell()

    def approve(self) -> None:
        """The newest frames are the zero from now on. Raises Refused."""
        with self._lock:
            self.session.approve()
        self.tell()

    def new_job(self, name: str) -> None:
        """End this job, writing its results, and begin with another. Raises Refused."""
        if name not in self.jobs.names():
            raise Refused(f"There is no job file {name!r} in the watched folder.")
        try:
            given = self.jobs.open(name)
        except RegscanError as bad:
            raise Refused(f"The job cannot be used. {bad}") from None
        with self._lock:
            self._finish()
            self.session = self._open(given, anew=True)
            self.picture = (self.picture[0], "", b"")
        self.tell()

    def close(self) -> Path:
        """Write the results; the folder they lie in."""
        with self._lock:
            self._finish()
            self.log.close()
            return self.session.kept.folder

    def _finish(self) -> None:
        try:
            finish(self.session, self.folder)
        except RegscanError as bad:
            self.session.say("trouble", str(bad))
        finally:
            self.session.kept.close()

    def _move(self, number: int, axis: str, move_mm: float) -> Made:
        stations = {s.number: s for s in self.session.job.press.stations if not s.locked}
        if number not in stations:
            raise Refused("That station cannot be moved: it is locked, or not on this press.")
        found = next((one for one in AXES if one == axis), None)
        if found is None:
            raise Refused("A move is circumferential or lateral.")
        if not math.isfinite(move_mm) or not 0.0 < abs(move_mm) <= MOST_MM:
            raise Refused(f"A move is longer than 0 and at most {MOST_MM:g} mm.")
        station, newest = stations[number], self.session.memory.newest
        step = station.steps.of(found)
        info = newest.info if newest else None
        return Made(
            line=len(self.session.pending.moves) + 2,  # below the heading of moves.csv
            station=number,
            ink=station.ink,
            axis=found,
            move_mm=round(move_mm, 6),
            steps=round(move_mm / step),
            web_m=info.web_m if info else None,
            time_s=info.time_s if info else None,
        )
