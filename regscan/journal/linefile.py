"""An append-only file of checked lines: what was written before a program died can be read.

Each line is `CRC PAYLOAD`: CRC-32 of the payload in eight hexadecimal digits, a blank, and
JSON without line ends. A line counts only when it is whole, so a torn last line (a kill, a
full disk, a power cut) is told from a good one. Text and not a database, because one
`write` per record is all that can go wrong, any editor shows it, and it needs no lock of a
file system.

A line is given to the system the moment it is appended, so the death of the program loses
nothing. It is forced onto the disk (fsync) once a second at most, so a power cut loses the
last second.
"""

import os
import time
import zlib
from collections.abc import Iterator
from pathlib import Path

from regscan.errors import BadOutput, Problem

SYNC_S = 1.0


def good_lines(path: Path) -> Iterator[bytes]:
    """The payloads of a file up to its end or to the first line that is not whole."""
    with path.open("rb") as file:
        for line in file:
            if not _whole(line):
                return
            yield line[9:-1]


def good_bytes(path: Path) -> int:
    """How many bytes of a file are whole lines, counted from its beginning."""
    return sum(len(payload) + 10 for payload in good_lines(path))


def _whole(line: bytes) -> bool:
    return (
        line.endswith(b"\n") and line[8:9] == b" " and line[:8] == b"%08x" % zlib.crc32(line[9:-1])
    )


class LineFile:
    """A file of checked lines, open for appending; what follows its last whole line is cut off."""

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            self._file = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o644)
            self._size = good_bytes(path)
            os.ftruncate(self._file, self._size)
            os.lseek(self._file, self._size, os.SEEK_SET)
        except OSError as fault:
            raise self._not_written(fault) from fault
        self._synced_s = time.monotonic()

    def append(self, payload: bytes) -> None:
        """Add one line. Raises BadOutput, leaving the file as it was, when it does not fit."""
        line = b"%08x %b\n" % (zlib.crc32(payload), payload)
        try:
            self._write(line)
        except OSError as fault:
            os.ftruncate(self._file, self._size)  # half a line is of no use to anybody
            os.lseek(self._file, self._size, os.SEEK_SET)
            raise self._not_written(fault) from fault
        self._size += len(line)
        if time.monotonic() - self._synced_s > SYNC_S:
            self.sync()

    def _write(self, line: bytes) -> None:
        while line:
            line = line[os.write(self._file, line) :]

    def sync(self) -> None:
        """Force what was written onto the disk."""
        try:
            os.fsync(self._file)
        except OSError as fault:
            raise self._not_written(fault) from fault
        self._synced_s = time.monotonic()

    def close(self) -> None:
        """Leave the file; it stays."""
        os.close(self._file)

    def _not_written(self, fault: OSError) -> BadOutput:
        what = f"cannot be written ({fault.strerror or fault})"
        cure = "make room on its disk, or choose a folder you may write to with --out"
        return BadOutput(self.path, Problem("", what, cure))
