"""The journal of a run: each frame's rows as soon as they are measured, in the frames' order.

Its first line says what the run was begun with; each further one is one frame. A run that
was killed is gone on with from the first frame that has no line.
"""

import json
from collections.abc import Iterable, Iterator
from itertools import islice
from pathlib import Path

from regscan.errors import BadJournal, Problem
from regscan.journal.linefile import LineFile, good_lines
from regscan.journal.origin import Origin
from regscan.journal.record import decoded, stamp_of
from regscan.recording.sources import FrameSource

FORMAT = 1  # 1: first.
NAME = "journal.jsonl"
SHOWN = 12  # frames named in one message
_ANEW = "leave out --resume to begin anew"


class Journal:
    """One run's journal, open for appending.

    finished   frames it holds.
    """

    def __init__(self, path: Path, origin: Origin) -> None:
        """Go on with the journal at that place, or begin one there."""
        self._lines = LineFile(path)
        self.finished = count_frames(path)
        if not path.stat().st_size:
            self._lines.append(json.dumps({"format": FORMAT, "origin": dict(origin)}).encode())

    def kept(self) -> Iterator[bytes]:
        """The records of all finished frames, in order. Raises BadJournal for a damaged one."""
        found = 0
        for record in islice(good_lines(self._lines.path), 1, 1 + self.finished):
            found += 1
            yield record
        if found < self.finished:
            what = f"has been damaged: {self.finished - found} of its frames cannot be read back"
            cure = "check the disk; the same command with --resume measures those frames again"
            raise BadJournal(self._lines.path, Problem("", what, cure))

    def append(self, record: bytes) -> None:
        """Keep one more frame. Raises BadOutput when it cannot be kept."""
        self._lines.append(record)
        self.finished += 1

    def sync(self) -> None:
        """Force it onto the disk."""
        self._lines.sync()

    def close(self) -> None:
        """Leave it on the disk."""
        self._lines.close()


def count_frames(path: Path) -> int:
    """How many finished frames a journal holds; 0 where there is none."""
    return max(sum(1 for _ in good_lines(path)) - 1, 0) if path.exists() else 0


def check_unchanged(path: Path, origin: Origin, sources: Iterable[FrameSource]) -> None:
    """Raise BadJournal when the run a journal was begun with is not the run at hand.

    Every frame it holds must lie there as it did: same size, same time of change.
    """
    lines = good_lines(path)
    begun = _begun(path, next(lines, b"{}"))
    problems = [
        Problem(name, _changed(name, begun.get(name, "")), f"put the old one back, or {_ANEW}")
        for name, mine in origin.items()
        if begun.get(name) != mine
    ]
    if not problems:
        problems = list(_changed_frames(lines, sources))
    if problems:
        raise BadJournal(path, problems)


def _begun(path: Path, line: bytes) -> Origin:
    head = json.loads(line)
    if head.get("format") != FORMAT:
        what = f"is a journal of format {head.get('format')!r}, this regscan reads {FORMAT}"
        raise BadJournal(path, Problem("format", what, _ANEW))
    return head["origin"]


def _changed(name: str, begun: str) -> str:
    if name in ("command", "regscan"):
        return f"the run was begun with {name} {begun}".replace("command ", "")
    return "has changed since the run was begun"


def _changed_frames(lines: Iterator[bytes], sources: Iterable[FrameSource]) -> Iterator[Problem]:
    changed = [
        source.info.name
        for line, source in zip(lines, sources, strict=False)
        if decoded(line).stamp != stamp_of(source.path)
    ]
    for name in changed[:SHOWN]:
        cure = f"put the old file back, or {_ANEW}"
        yield Problem(name, "has changed since it was measured", cure)
    if len(changed) > SHOWN:
        yield Problem("", f"and {len(changed) - SHOWN} more frames", "as above")
