"""frames.csv: what is known of each frame besides its pixels."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from regscan.errors import BadFrames, Problem
from regscan.recording.csvfile import Layout, Sheet, capped, number, read_sheet
from regscan.recording.frame import FrameInfo
from regscan.recording.speedlog import FASTEST_M_MIN
from regscan.tomlfile import shown, suggest

NAME = "frames.csv"
_NUMBERS = ("time_s", "web_m", "speed_m_min")
_LAYOUT = Layout(needed=("frame",), known=("frame", *_NUMBERS, "camera", "edge"))
_DRIVE = re.compile(r"[A-Za-z]:[\\/]")
_EDGES = ("", "operator", "drive")


@dataclass(frozen=True, slots=True)
class FrameList:
    """The frames in the order of the list; empty fields are None or ""."""

    infos: tuple[FrameInfo, ...]
    notes: tuple[str, ...] = ()


def read_frame_list(path: Path) -> FrameList:
    """The list in a file. Raises BadFrames with every mistake in it, by line (at most ten)."""
    path = Path(path)
    sheet = read_sheet(path, BadFrames, _LAYOUT)
    if not sheet.rows:
        raise BadFrames(path, Problem("", "lists no frames", "add a row per frame, or remove it"))
    problems = [*_row_problems(sheet), *_order_problems(sheet)]
    if problems:
        raise BadFrames(path, capped(problems))
    infos = tuple(_info(row, index) for index, (_, row) in enumerate(sheet.rows))
    extra = [column for column in sheet.columns if column not in _LAYOUT.known]
    notes = (f"columns of {NAME} that were not used: {', '.join(extra)[:200]}",) if extra else ()
    return FrameList(infos, notes)


def _info(row: dict[str, str], index: int) -> FrameInfo:
    time_s, web_m, speed_m_min = (float(row[name]) if row.get(name) else None for name in _NUMBERS)
    return FrameInfo(
        name=PurePosixPath(row["frame"].replace("\\", "/")).as_posix(),
        index=index,
        time_s=time_s,
        web_m=web_m,
        speed_m_min=speed_m_min,
        camera=row.get("camera", ""),
        edge=row.get("edge", ""),
    )


def _row_problems(sheet: Sheet) -> Iterator[Problem]:
    first: dict[str, int] = {}
    for line, row in sheet.rows:
        name = row["frame"]
        yield from _name_problems(name, f"line {line}, frame")
        if name in first:
            what = f"{shown(name)} is already on line {first[name]}"
            yield Problem(f"line {line}, frame", what, "list each frame once")
        first.setdefault(name, line)
        edge = row.get("edge", "")
        if edge not in _EDGES:
            what = f"cannot be {shown(edge)}"
            yield Problem(f"line {line}, edge", what, suggest(edge, _EDGES[1:]))
        if len(row.get("camera", "")) > 64:
            yield Problem(f"line {line}, camera", "is too long", "at most 64 letters")
        yield from _value_problems(line, row)


def _name_problems(name: str, place: str) -> Iterator[Problem]:
    path = PurePosixPath(name.replace("\\", "/"))
    if not name:
        yield Problem(place, "names no file", "write the file name of the frame")
    elif not path.parts or path.is_absolute() or ".." in path.parts or _DRIVE.match(name):
        cure = "name a file in the folder of this list"
        yield Problem(place, f"{shown(name)} does not lie in this folder", cure)


def _value_problems(line: int, row: dict[str, str]) -> Iterator[Problem]:
    for column in _NUMBERS:
        text = row.get(column, "")
        if not text:
            continue
        place = f"line {line}, {column}"
        try:
            value = number(text)
        except ValueError as fault:
            yield Problem(place, str(fault), "write a number, or leave it empty if not known")
            continue
        if column == "speed_m_min" and not 0.0 <= value <= FASTEST_M_MIN:
            what = f"{value:g} m/min is no speed of a web"
            yield Problem(place, what, "write it in m/min, zero or more")


def _order_problems(sheet: Sheet) -> Iterator[Problem]:
    """For one camera and edge, time and web only go forward."""
    before: dict[tuple[str, str, str], tuple[int, float]] = {}
    for line, row in sheet.rows:
        for column in ("time_s", "web_m"):
            try:
                value = number(row.get(column, ""))
            except ValueError:
                continue  # empty, or reported already
            key = column, row.get("camera", ""), row.get("edge", "")
            last_line, last = before.get(key, (line, value))
            if value < last:
                what = f"{value:.12g} lies before line {last_line} ({last:.12g})"
                cure = "list the frames of a camera in the order they were taken"
                yield Problem(f"line {line}, {column}", what, cure)
            before[key] = line, value
