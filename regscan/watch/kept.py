"""What a watch keeps on disk, so that it goes on where it stopped: events, and a folder per job.

Every line is appended whole and checked when it is read (regscan.journal.linefile): what was
written before a crash or a power cut is used, a torn last line is cut off.
"""

import csv
import io
import json
import re
from collections import deque
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import asdict, replace
from pathlib import Path

from regscan.errors import BadOutput, Problem
from regscan.job.job import Job
from regscan.journal.linefile import LineFile, good_lines
from regscan.journal.origin import Origin
from regscan.journal.record import FrameRecord, Stamp, decoded
from regscan.verdict.movelog import COLUMNS, Made, read_moves
from regscan.watch.watched import Event
from regscan.watch.zero import Zero, load_zero, save_zero

FORMAT = 1  # 1: first.
SHOWN = 200  # events that are remembered for pages that come later
FRAMES, MOVES, ZERO = "frames.jsonl", "moves.csv", "zero.json"
_JOB = re.compile(r"job-(\d{4,})")
_REPEAT = re.compile(r" \(\d+\)$")


class EventLog:
    """The log of events in a results folder."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self._file = LineFile(folder / "events.jsonl")
        events = (Event(**json.loads(line)) for line in good_lines(self._file.path))
        self.newest: deque[Event] = deque(events, maxlen=SHOWN)

    @property
    def number(self) -> int:
        """Of the newest event; 0 before the first."""
        return self.newest[-1].number if self.newest else 0

    def add(self, event: Event) -> Event:
        """Keep an event; returns it with its number. On a full disk it is shown, and not kept:
        what brought it about must not be done twice for it."""
        event = replace(event, number=self.number + 1)
        with suppress(BadOutput):
            self._file.append(json.dumps(asdict(event), ensure_ascii=False).encode("utf-8"))
        self.newest.append(event)
        return event

    def after(self, number: int) -> list[Event]:
        """The remembered events with a larger number."""
        return [event for event in self.newest if event.number > number]

    def close(self) -> None:
        """Leave it on the disk."""
        self._file.close()


class JobFolder:
    """One job's frames, moves and zero. continued: whether it was begun before."""

    def __init__(self, folder: Path, origin: Origin) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.folder = folder
        self.continued = not _empty(folder)
        self._lines = LineFile(folder / FRAMES)
        if not self.continued:
            self._lines.append(json.dumps({"format": FORMAT, "origin": dict(origin)}).encode())

    def records(self) -> Iterator[FrameRecord]:
        """All measured frames, in order."""
        yield from _records(self.folder)

    def append(self, record: bytes) -> None:
        """Keep one more frame. Raises BadOutput."""
        self._lines.append(record)

    def moves(self, job: Job) -> list[Made]:
        """The moves noted up to now. Raises BadTable."""
        path = self.folder / MOVES
        return list(read_moves(path, job)) if path.exists() else []

    def add_move(self, made: Made) -> None:
        """Note a move, in the columns that `regscan correct --moves` reads. Raises BadOutput."""
        path = self.folder / MOVES
        text = io.StringIO()
        writer = csv.writer(text, lineterminator="\n")
        if not path.exists():
            writer.writerow([column.name for column in COLUMNS])
        values = (made.station, made.ink, made.axis, made.steps, f"{made.move_mm:.6f}")
        writer.writerow([*values, _cell(made.web_m), _cell(made.time_s)])
        try:
            with path.open("a", encoding="utf-8", newline="") as file:
                file.write(text.getvalue())
        except OSError as fault:
            cure = "make room on its disk"
            what = f"cannot be written ({fault.strerror})"
            raise BadOutput(path, Problem("", what, cure)) from fault

    @property
    def zero(self) -> Zero | None:
        """The approved print of this job, if any. Raises BadTable."""
        return load_zero(self.folder / ZERO)

    def keep_zero(self, zero: Zero) -> None:
        """Write it down. Raises BadOutput."""
        save_zero(zero, self.folder / ZERO)

    def close(self) -> None:
        """Leave it on the disk."""
        with suppress(BadOutput):
            self._lines.sync()
        self._lines.close()


def _cell(value: float | None) -> str:
    return "" if value is None else f"{value:.6f}"


def job_folders(out: Path) -> list[Path]:
    """The folders of all jobs watched into that place, oldest first."""
    found = [path for path in out.glob("job-*") if _JOB.fullmatch(path.name) and path.is_dir()]
    return sorted(found, key=lambda path: int(path.name.removeprefix("job-")))


def open_job(out: Path, origin: Origin, anew: bool) -> JobFolder:
    """The newest folder where it was begun with the same job and camera, else a new one.

    A folder whose first line was never written (a kill just before it) is nobody's yet.
    """
    folders = job_folders(out)
    if folders and (_empty(folders[-1]) or (not anew and _origin(folders[-1]) == origin)):
        return JobFolder(folders[-1], origin)
    number = int(folders[-1].name.removeprefix("job-")) + 1 if folders else 1
    return JobFolder(out / f"job-{number:04d}", origin)


def known_frames(out: Path) -> dict[str, Stamp]:
    """File names of all frames measured into that place, with their newest stamps."""
    known: dict[str, Stamp] = {}
    for folder in job_folders(out):
        for record in _records(folder):
            known[file_name(record.name)] = record.stamp
    return known


def file_name(name: str) -> str:
    """The file name of a frame, from what the table calls it."""
    return _REPEAT.sub("", name)


def repeated(name: str, times: int) -> str:
    """What the table calls a frame whose file name it has already."""
    return f"{name} ({times + 1})" if times else name


def _records(folder: Path) -> Iterator[FrameRecord]:
    path = folder / FRAMES
    if not path.exists():
        return
    lines = good_lines(path)
    next(lines, None)  # what it was begun with
    for line in lines:
        yield decoded(line)


def _origin(folder: Path) -> Origin | None:
    line = _head(folder)
    head = json.loads(line) if line else {}
    return head.get("origin") if head.get("format") == FORMAT else None


def _empty(folder: Path) -> bool:
    return _head(folder) is None


def _head(folder: Path) -> bytes | None:
    path = folder / FRAMES
    return next(good_lines(path), None) if path.exists() else None
