"""One measured frame as the watch remembers it, and the newest ones of a job."""

from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from regscan.job.job import Job
from regscan.journal.record import FrameRecord
from regscan.offsets.offset import Offset
from regscan.offsets.rows import Row
from regscan.recording.frame import FrameInfo
from regscan.watch.zero import counted_from, number_in

REMEMBERED = 160  # frames; enough for a trend, a move's before and after, and the advice


@dataclass(frozen=True, slots=True)
class Entry:
    """number: of the frame among those measured for this job, from 1; rows as in the tables."""

    number: int
    info: FrameInfo
    offsets: tuple[Row, ...]
    marks: tuple[Row, ...]

    def of(self, ink: str, edge: str) -> Row | None:
        """The offset of one colour; None where the frame has no row for it."""
        return next((r for r in self.offsets if r["ink"] == ink and r["edge"] == edge), None)


def entry_of(record: FrameRecord, number: int) -> Entry:
    """The entry of a kept frame."""
    rows = record.offsets or record.marks
    first: Row = rows[0] if rows else {}

    def known(column: str) -> float | None:
        value = first.get(column)
        return float(value) if isinstance(value, int | float) and value == value else None

    info = FrameInfo(
        record.name,
        number - 1,
        known("time_s"),
        known("web_m"),
        known("speed_m_min"),
        str(first.get("camera", "")),
        "",
    )
    return Entry(number, info, tuple(record.offsets), tuple(record.marks))


class Memory:
    """The newest frames, counted as `job` does. base: how their rows were written down."""

    def __init__(self, base: Job) -> None:
        self.base = self.job = base
        self.entries: deque[Entry] = deque(maxlen=REMEMBERED)
        self.measured = 0

    def add(self, record: FrameRecord) -> Entry:
        """The next measured frame."""
        self.measured += 1
        entry = self._counted(entry_of(record, self.measured), self.base, self.job)
        self.entries.append(entry)
        return entry

    def count_from(self, job: Job) -> None:
        """From now on as `job` counts, what is remembered too."""
        entries = [self._counted(entry, self.job, job) for entry in self.entries]
        self.job = job
        self.entries = deque(entries, maxlen=REMEMBERED)

    def base_rows(self) -> list[Row]:
        """All remembered rows of offsets as they were written down, newest last."""
        rows = [row for entry in self.entries for row in entry.offsets]
        return counted_from(rows, self.job, self.base)

    def rows(self, counts: Callable[[str, Entry], bool]) -> list[Row]:
        """Remembered rows of offsets of the colours that count in their frame."""
        return [r for e in self.entries for r in e.offsets if counts(str(r["ink"]), e)]

    @property
    def newest(self) -> Entry | None:
        """The newest frame; None before the first."""
        return self.entries[-1] if self.entries else None

    def along_web(self) -> bool:
        """Whether every remembered frame carries its place on the web."""
        return bool(self.entries) and all(e.info.web_m is not None for e in self.entries)

    @staticmethod
    def _counted(entry: Entry, old: Job, new: Job) -> Entry:
        if old is new:
            return entry
        return replace(entry, offsets=tuple(counted_from(entry.offsets, old, new)))


def offsets_of(rows: Iterable[Row]) -> list[Offset]:
    """Rows as the offsets they were written from."""
    return [
        Offset(
            station=int(number_in(row, "station")),
            ink=str(row["ink"]),
            edge=str(row["edge"]),
            status=row["status"],  # type: ignore[arg-type]
            circumferential_mm=number_in(row, "circumferential_mm"),
            lateral_mm=number_in(row, "lateral_mm"),
            circumferential_sd_mm=number_in(row, "circumferential_sd_mm"),
            lateral_sd_mm=number_in(row, "lateral_sd_mm"),
            note=str(row["note"]),
        )
        for row in rows
    ]
