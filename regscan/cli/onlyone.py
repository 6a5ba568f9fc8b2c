"""One run at a time into one folder: a lock that the system lets go when its holder dies."""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from regscan.errors import BadOutput, Problem


@contextmanager
def only_one(lock: Path, out: Path) -> Iterator[None]:
    """Hold the lock file while inside. Raises BadOutput when another process holds it."""
    file = _held(lock, out)
    try:
        yield
    finally:
        if sys.platform == "win32":  # an open file cannot be removed there
            os.close(file)
        lock.unlink(missing_ok=True)
        if sys.platform != "win32":
            os.close(file)


def _held(lock: Path, out: Path) -> int:
    while True:
        try:
            file = os.open(lock, os.O_RDWR | os.O_CREAT, 0o644)
        except OSError as fault:
            cure = "give another folder with --out, or make this one writable with space left"
            what = f"cannot be written: {(fault.strerror or str(fault)).lower()}"
            raise BadOutput(out, Problem("", what, cure)) from None
        if not _lock(file):
            os.close(file)
            cure = "wait until it has finished, or give another folder with --out"
            raise BadOutput(out, Problem("", "another regscan is writing into it", cure))
        if _is_at(file, lock):
            return file
        os.close(file)  # its holder removed it between our opening and our locking


def _is_at(file: int, lock: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(file), os.stat(lock))
    except FileNotFoundError:
        return False


def _lock(file: int) -> bool:
    """Whether the file is ours now. A file system without locks gives everybody theirs."""
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as fault:
        return not isinstance(fault, BlockingIOError | PermissionError)
    return True
