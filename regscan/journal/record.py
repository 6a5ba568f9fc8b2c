"""What is kept of one measured frame: its rows of both tables, or why it has none; as JSON."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from regscan.measuring import MeasuredFrame
from regscan.offsets.columns import MARK_COLUMNS, OFFSET_COLUMNS
from regscan.offsets.rows import Row, mark_row, offset_row
from regscan.recording.sources import FrameSource

Stamp = tuple[int, int] | None  # size in bytes and time of last change in ns; None: no such file
Measurer = Callable[[FrameSource], MeasuredFrame]
_OFFSETS = [column.name for column in OFFSET_COLUMNS]
_MARKS = [column.name for column in MARK_COLUMNS]


@dataclass(frozen=True, slots=True)
class FrameRecord:
    """One measured frame as it is kept.

    stamp       of its file, taken before it was read.
    size        rows and columns in px; empty for a frame that could not be used.
    why, cure   as in MeasuredFrame.
    offsets, marks   its rows of the two tables.
    """

    name: str
    stamp: Stamp
    size: tuple[int, ...]
    why: str
    cure: str
    offsets: list[Row]
    marks: list[Row]


def stamp_of(path: Path) -> Stamp:
    """By what a changed file is known without reading it."""
    try:
        stat = path.stat()
    except (OSError, ValueError):
        return None
    return stat.st_size, stat.st_mtime_ns


class Recorder:
    """Measures a frame and gives its record as bytes: small to send, ready to be kept."""

    def __init__(self, prepare: Callable[[], Measurer]) -> None:
        self.measure = prepare()

    def __call__(self, source: FrameSource) -> bytes:
        """The record of one frame."""
        stamp = stamp_of(source.path)
        return encoded(self.measure(source), stamp)


def encoded(frame: MeasuredFrame, stamp: Stamp) -> bytes:
    """JSON on one line; numbers keep every digit, unknown is NaN as Python writes it."""
    offsets = (offset_row(frame.info, offset) for offset in frame.offsets)
    marks = (mark_row(frame.info, mark) for mark in frame.marks)
    record = {
        "frame": frame.info.name,
        "stamp": stamp,
        "size": frame.size,
        "why": frame.why,
        "cure": frame.cure,
        "offsets": [[row[name] for name in _OFFSETS] for row in offsets],
        "marks": [[row[name] for name in _MARKS] for row in marks],
    }
    return json.dumps(record, separators=(",", ":"), default=_plain).encode("ascii")


def _plain(value: Any) -> Any:
    return value.item()  # a number of numpy's


def decoded(payload: bytes) -> FrameRecord:
    """The record that `encoded` wrote."""
    kept = json.loads(payload)
    stamp = kept["stamp"]
    return FrameRecord(
        kept["frame"],
        (stamp[0], stamp[1]) if stamp else None,
        tuple(kept["size"]),
        kept["why"],
        kept["cure"],
        [dict(zip(_OFFSETS, row, strict=True)) for row in kept["offsets"]],
        [dict(zip(_MARKS, row, strict=True)) for row in kept["marks"]],
    )
