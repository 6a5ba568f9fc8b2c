"""A history of runs in one SQLite file: kept, listed, taken out, copied."""

import os
import sqlite3
import zlib
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import astuple, fields
from datetime import datetime
from pathlib import Path

from regscan.errors import BadHistory, BadOutput, Problem
from regscan.history.opening import connect, told, writing
from regscan.history.records import Entry, Kept, Reading, Setting

ENTRY = ", ".join(field.name for field in fields(Entry))


@contextmanager
def open_history(path: Path, *, create: bool = False) -> Iterator["History"]:
    """A history, closed at the end. Raises BadHistory for what cannot be used.

    create   make the file where there is none.
    """
    with closing(connect(path, create=create)) as link, told(path):
        yield History(path, link)


class History:
    """An open history file. Everything it raises for the file's sake is BadHistory."""

    def __init__(self, path: Path, link: sqlite3.Connection) -> None:
        self.path, self.link = path, link

    def add(self, kept: Kept) -> tuple[int, bool]:
        """Keep a run; its number here, and whether it is new. The same run is kept once."""
        with writing(self.link):
            found = self.link.execute("SELECT number FROM run WHERE key = ?", (kept.entry.key,))
            if row := found.fetchone():
                return row[0], False
            number = self._insert_run(kept)
            for table, rows in (("reading", kept.readings), ("setting", kept.settings)):
                for row in rows:
                    values = (number, *astuple(row))
                    marks = ", ".join("?" * len(values))
                    self.link.execute(f"INSERT INTO {table} VALUES ({marks})", values)
        return number, True

    def _insert_run(self, kept: Kept) -> int:
        values = {f.name: getattr(kept.entry, f.name) for f in fields(Entry) if f.name != "number"}
        values |= {
            "made_s": seconds(kept.entry.made_at),
            "added_at": datetime.now().astimezone().isoformat(timespec="seconds"),
            "document": zlib.compress(kept.document, 9),
        }
        names, marks = ", ".join(values), ", ".join("?" * len(values))
        made = self.link.execute(
            f"INSERT INTO run ({names}) VALUES ({marks})", tuple(values.values())
        )
        assert made.lastrowid is not None
        return made.lastrowid

    def entries(self, *, press: str = "", job: str = "", since: str = "") -> list[Entry]:
        """The runs in the order in which they were measured, all or of one press or job."""
        rows = self.link.execute(
            f"SELECT {ENTRY} FROM run WHERE (?1 = '' OR press = ?1) AND (?2 = '' OR job = ?2)"
            " AND made_s >= ?3 ORDER BY made_s, number",
            (press, job, seconds(since) if since else -1e18),
        )
        return [Entry(*row) for row in rows]

    def entry(self, number: int) -> Entry:
        """One run by its number here. Raises BadHistory where there is none."""
        row = self.link.execute(f"SELECT {ENTRY} FROM run WHERE number = ?", (number,)).fetchone()
        if row is None:
            cure = "regscan history list shows the runs there are"
            raise BadHistory(self.path, Problem("", f"holds no run {number}", cure))
        return Entry(*row)

    def readings(self, number: int) -> list[Reading]:
        """What one run says of each station."""
        names = ", ".join(field.name for field in fields(Reading))
        rows = self.link.execute(
            f"SELECT {names} FROM reading WHERE run = ? ORDER BY station, axis, measure", (number,)
        )
        return [Reading(*row) for row in rows]

    def settings(self, number: int) -> list[Setting]:
        """Where each station lay in one run."""
        names = ", ".join(field.name for field in fields(Setting))
        rows = self.link.execute(
            f"SELECT {names} FROM setting WHERE run = ? ORDER BY station, axis", (number,)
        )
        return [Setting(*row) for row in rows]

    def document(self, number: int) -> bytes:
        """The run.json of one run, as it was."""
        self.entry(number)
        row = self.link.execute("SELECT document FROM run WHERE number = ?", (number,)).fetchone()
        try:
            return zlib.decompress(row[0])
        except zlib.error as fault:
            raise sqlite3.DatabaseError(f"run {number} cannot be unpacked: {fault}") from None

    def presses(self) -> list[str]:
        """The presses that runs were measured on."""
        return [row[0] for row in self.link.execute("SELECT DISTINCT press FROM run ORDER BY 1")]

    def remove(self, numbers: Sequence[int]) -> int:
        """Take out exactly these runs with all that is kept of them; how many there were."""
        with writing(self.link):
            gone = 0
            for number in numbers:
                gone += self.link.execute("DELETE FROM run WHERE number = ?", (number,)).rowcount
        return gone

    def shrink(self) -> None:
        """Give the room of what was taken out back to the disk, unless somebody is writing."""
        try:
            self.link.execute("VACUUM")
        except sqlite3.OperationalError as fault:
            if "locked" not in str(fault):
                raise

    def copy(self, path: Path) -> None:
        """A whole copy in one file, also while others write. Raises BadOutput."""
        part = path.parent / f".{path.name[:40]}.{os.getpid()}.part"
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            with closing(sqlite3.connect(part, isolation_level=None)) as copy:
                self.link.backup(copy)
                copy.execute("PRAGMA journal_mode = DELETE")
            os.replace(part, path)
        except (OSError, sqlite3.OperationalError) as fault:
            cure = "choose a place you may write to, with room on its disk"
            what = f"cannot be written ({getattr(fault, 'strerror', None) or fault})"
            raise BadOutput(path, Problem("", what, cure)) from None
        finally:
            with suppress(OSError):
                part.unlink(missing_ok=True)


def seconds(moment: str) -> float:
    """Seconds since 1970 of an ISO 8601 moment; local time where it names no zone.

    0 for what is no moment: such a run counts as the oldest.
    """
    try:
        return datetime.fromisoformat(moment).timestamp()
    except (ValueError, OverflowError, OSError):
        return 0.0
