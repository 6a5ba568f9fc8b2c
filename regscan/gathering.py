"""Many frames' records gathered: what can be used goes into the tables, the rest is named."""

from array import array
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from regscan.errors import BadFrames, Problem
from regscan.journal.record import FrameRecord
from regscan.offsets.columns import MARK_COLUMNS, OFFSET_COLUMNS
from regscan.offsets.growing import GrowingTable
from regscan.recording.sources import Recording
from regscan.run import SkippedFrame

SHOWN = 12  # problems listed in one message; the rest are counted
_UNUSED = -1  # in place of the number of a size


@dataclass(frozen=True, slots=True)
class Measured:
    """All frames of a recording: the two tables, and the frames that gave nothing."""

    offsets: np.ndarray
    marks: np.ndarray
    skipped: tuple[SkippedFrame, ...]


class Gathering:
    """Takes the records of a recording's frames in order; keeps their rows and little else."""

    def __init__(self, recording: Recording) -> None:
        self._recording = recording
        self._offsets, self._marks = GrowingTable(OFFSET_COLUMNS), GrowingTable(MARK_COLUMNS)
        self._sizes: dict[tuple[str, tuple[int, ...]], int] = {}  # (camera, size): its number
        self._size_of, self._rows_of = array("l"), (array("l"), array("l"))  # one per frame
        self._unused: dict[int, tuple[str, str]] = {}  # frame: why and cure

    def __len__(self) -> int:
        return len(self._size_of)

    def add(self, record: FrameRecord) -> None:
        """The next frame's record."""
        camera = self._recording.sources[len(self)].info.camera
        if record.why:
            self._unused[len(self)] = record.why, record.cure
            self._size_of.append(_UNUSED)
        else:
            size = self._sizes.setdefault((camera, record.size), len(self._sizes))
            self._size_of.append(size)
        for table, rows, counts in (
            (self._offsets, record.offsets, self._rows_of[0]),
            (self._marks, record.marks, self._rows_of[1]),
        ):
            table.add(rows)
            counts.append(len(rows))

    def finish(self) -> Measured:
        """The tables of all usable frames; asked for once.

        Frames of a camera that differ in size from most of it are not used: a change of
        size is a change of camera set-up, so its scale cannot be trusted. Raises BadFrames
        when no frame can be used or none shows any mark.
        """
        odd = self._set_odd_sizes_aside()
        folder, used = self._recording.folder, len(self) - len(self._unused)
        if not used:
            raise BadFrames(folder, self._set_aside())
        offsets, marks = (
            _without(table.whole(), counts, odd, self._size_of)
            for table, counts in zip((self._offsets, self._marks), self._rows_of, strict=True)
        )
        if (marks["status"] == "missing").all():
            raise BadFrames(folder, [_no_marks(used), *self._set_aside()])
        skipped = (SkippedFrame(name, why) for name, why, _ in self._reasons())
        return Measured(offsets, marks, tuple(skipped))

    def _set_odd_sizes_aside(self) -> set[int]:
        """Numbers of the sizes that are not the usual one of their camera."""
        count = Counter(self._size_of)
        usual: dict[str, tuple[int, ...]] = {}
        for (camera, size), number in self._sizes.items():
            if camera not in usual or count[number] > count[self._sizes[camera, usual[camera]]]:
                usual[camera] = size
        odd = {n for (camera, size), n in self._sizes.items() if size != usual[camera]}
        words = {
            n: (
                "is {1} x {0} pixels".format(*size)
                + ", the others are {1} x {0}".format(*usual[camera]),
                "measure it by itself",
            )
            for (camera, size), n in self._sizes.items()
            if n in odd
        }
        self._unused |= {k: words[n] for k, n in enumerate(self._size_of) if n in odd}
        return odd

    def _reasons(self) -> Iterator[tuple[str, str, str]]:
        """(frame, why, cure) of every frame that was not used, in order."""
        for frame in sorted(self._unused):
            yield self._recording.sources[frame].info.name, *self._unused[frame]

    def _set_aside(self) -> list[Problem]:
        problems = [Problem(*reason) for reason in list(self._reasons())[:SHOWN]]
        if len(self._unused) > SHOWN:
            what = f"and {len(self._unused) - SHOWN} more frames"
            problems.append(Problem("", what, "as above"))
        return problems


def _without(
    table: np.ndarray, counts: "array[int]", odd: set[int], sizes: "array[int]"
) -> np.ndarray:
    """The rows of frames of a usual size."""
    if not odd:
        return table
    good = ~np.isin(np.array(sizes), list(odd))
    return table[np.repeat(good, counts)]


def _no_marks(frames: int) -> Problem:
    return Problem(
        "marks",
        f"no mark of any colour was found in {frames} usable frame{'' if frames == 1 else 's'}",
        "check that the job's inks, mark shapes and places are those of these frames, and"
        " mm_per_px, web_travel and drive_side in the camera file",
    )
