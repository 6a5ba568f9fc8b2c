"""A history file opened safely: told apart from other files, checked, brought up to date."""

import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from regscan.errors import BadHistory, Problem
from regscan.history.schema import APPLICATION, NEWEST, STEPS

BUSY_S = 30.0  # how long one writer waits for another; a run is written in milliseconds
MAGIC = b"SQLite format 3\x00"
CHECKED_BYTES = 256_000_000  # a larger file is checked where it is touched, not as a whole

RESTORE = (
    "put a copy of it in its place (regscan history copy makes them), or move it away and add"
    " the runs' folders again with regscan history add"
)


@contextmanager
def told(path: Path) -> Iterator[None]:
    """Turn what SQLite says into BadHistory, with the file and a cure."""
    try:
        yield
    except sqlite3.Error as fault:
        raise BadHistory(path, _problem(fault)) from None


def _problem(fault: sqlite3.Error) -> Problem:
    words = str(fault)
    if "locked" in words or "busy" in words:
        what = f"is being written by somebody else, for over {BUSY_S:.0f} s"
        return Problem("", what, "close what holds it, then try again")
    if "readonly" in words or "unable to open" in words:
        cure = "make the file and its folder writable, or copy it to a folder of your own"
        return Problem("", f"cannot be opened ({words})", cure)
    if "full" in words:
        return Problem("", "could not be written: the disk is full", "make room, then try again")
    return Problem("", f"is damaged ({words})", RESTORE)


def connect(path: Path, *, create: bool) -> sqlite3.Connection:
    """The file, ready for use. Raises BadHistory for one that cannot or must not be used.

    create   make the file where there is none.
    """
    _look_at(path, create)
    with told(path):
        link = sqlite3.connect(path, timeout=BUSY_S, isolation_level=None)
    try:
        with told(path):
            _prepare(link, path)
    except BaseException:
        link.close()
        raise
    return link


def _look_at(path: Path, create: bool) -> None:
    """What can be said of a file before SQLite opens it."""
    try:
        with path.open("rb") as file:
            head = file.read(len(MAGIC))
    except FileNotFoundError:
        if create and path.parent.is_dir():
            return
        cure = "name one with --history, or begin it with regscan history add DIR"
        raise BadHistory(path, Problem("", "there is no history here", cure)) from None
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or str(fault)
        cure = "check the name, the folder and the permissions"
        raise BadHistory(path, Problem("", f"cannot be read ({reason})", cure)) from None
    if head and head != MAGIC:
        raise BadHistory(path, Problem("", "is no history file", f"name another, or {RESTORE}"))


def _prepare(link: sqlite3.Connection, path: Path) -> None:
    version = _version(link)
    _check_kind(link, path, version)
    if path.stat().st_size <= CHECKED_BYTES:
        found = [row[0] for row in link.execute("PRAGMA quick_check(3)")]
        if found != ["ok"]:
            what = f"is damaged ({'; '.join(map(str, found))[:200]})"
            raise BadHistory(path, Problem("", what, RESTORE))
    _use_log(link)
    link.execute("PRAGMA foreign_keys = ON")
    # What is said to be kept is on the disk, also when the power fails.
    link.execute("PRAGMA synchronous = FULL")
    if version < NEWEST:
        migrate(link, path)


def _use_log(link: sqlite3.Connection) -> None:
    """Write-ahead log: readers never wait for the writer, nor it for them."""
    until = time.monotonic() + BUSY_S
    while True:
        try:
            link.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as fault:
            # Two processes that begin one file at once: SQLite does not wait here by itself.
            if "locked" not in str(fault) or time.monotonic() > until:
                raise
            time.sleep(0.02)


def _version(link: sqlite3.Connection) -> int:
    version: int = link.execute("PRAGMA user_version").fetchone()[0]
    return version


def _check_kind(link: sqlite3.Connection, path: Path, version: int) -> None:
    application = link.execute("PRAGMA application_id").fetchone()[0]
    tables = link.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    if application != APPLICATION and (version or tables):
        raise BadHistory(path, Problem("", "is a database of something else", "name another file"))
    if version > NEWEST:
        what = f"was written by a newer regscan (form {version}, this one knows {NEWEST})"
        raise BadHistory(path, Problem("", what, "use that version, or a newer one"))


def migrate(link: sqlite3.Connection, path: Path, newest: int = NEWEST) -> None:
    """Bring a file up to date in one transaction; two programs at once do it once."""
    with told(path), writing(link):
        for number in range(_version(link), newest):  # read anew: somebody may have been first
            for statement in STEPS[number]:
                link.execute(statement)
            link.execute(f"PRAGMA user_version = {number + 1}")
        link.execute(f"PRAGMA application_id = {APPLICATION}")


@contextmanager
def writing(link: sqlite3.Connection) -> Iterator[None]:
    """All that is written inside is kept together, or nothing of it."""
    link.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        if link.in_transaction:
            link.execute("ROLLBACK")
        raise
    link.execute("COMMIT")
