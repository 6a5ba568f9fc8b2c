"""From the paths on a command line to the frames there: what they are called and in what order."""

import glob
import os
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from regscan.errors import BadFrames, Problem
from regscan.recording.frame import FrameInfo
from regscan.recording.framelist import NAME, FrameList, read_frame_list
from regscan.recording.kinds import (
    PICTURES,
    VIDEOS,
    is_picture,
    is_video,
    may_have_pages,
    natural_key,
)
from regscan.tomlfile import near_files, shown

_KNOWN = f"pictures end in {' '.join(PICTURES)}, videos in {' '.join(VIDEOS)}"


@dataclass(frozen=True, slots=True)
class FoundFrame:
    """One frame before its clock is set; number as in FrameSource."""

    info: FrameInfo
    path: Path
    number: int | None = None


@dataclass(frozen=True, slots=True)
class Found:
    """All frames in order, what was odd, and what to call the list they came from."""

    frames: tuple[FoundFrame, ...]
    notes: tuple[str, ...] = ()
    listed: str = NAME


def common_folder(paths: Sequence[Path]) -> str:
    """The folder that holds everything given, as short as it was written."""
    folders = [str(p) if os.path.isdir(p) else str(Path(p).parent) for p in paths]
    try:
        return os.path.commonpath(folders) or "."
    except ValueError:  # nothing given, or absolute and relative mixed
        return folders[0] if folders else "."


def find_frames(paths: Sequence[Path], folder: str) -> Found:
    """Every frame the paths lead to. Raises BadFrames naming every path that leads to none."""
    if not paths:
        raise BadFrames(folder, Problem("", "no frames were given", "name files or a folder"))
    groups = _groups(paths, folder)
    frames: list[FoundFrame] = []
    notes: list[str] = []
    for place, files in groups.items():
        some, said = _listed_or_all(place, files)
        frames += some
        notes += said
    names = [frame.info.name for frame in frames]
    if len(set(names)) < len(names):  # the same name in two folders: say which folder
        frames = [replace(f, info=replace(f.info, name=_long_name(f, folder))) for f in frames]
    return Found(tuple(frames), tuple(notes))


def _long_name(frame: FoundFrame, folder: str) -> str:
    above = os.path.relpath(frame.path.parent, folder)
    return _writable((Path(above) / Path(frame.info.name).name).as_posix())


def _groups(paths: Sequence[Path], folder: str) -> dict[Path, set[Path] | None]:
    """Files wanted per folder, folders in the order given; None for a whole folder."""
    groups: dict[Path, set[Path] | None] = {}
    problems: list[Problem] = []
    for path in _unfolded(paths):
        if os.path.isdir(path):  # unlike Path's own, False for a name that is too long
            groups[path] = None
        elif not os.path.exists(path):
            near = near_files(path)
            cure = f"did you mean {near}?" if near else "check the name and the folder"
            problems.append(Problem(str(path), "there is no such file or folder", cure))
        elif not (is_picture(path) or is_video(path)):
            problems.append(Problem(str(path), "is no picture or video by its name", _KNOWN))
        else:
            files = groups.setdefault(path.parent, set())
            if files is not None:
                files.add(path)
    if problems:
        raise BadFrames(folder, problems)
    return groups


def _unfolded(paths: Sequence[Path]) -> Iterator[Path]:
    """The paths, with patterns that no shell has looked up replaced by what they stand for."""
    for path in paths:
        matches = [] if os.path.lexists(path) else _matching(path)
        yield from map(Path, matches) if matches else [path]


def _matching(pattern: Path) -> list[str]:
    try:
        return sorted(glob.glob(str(pattern)))
    except ValueError:  # a name that no file can have
        return []


def _listed_or_all(
    folder: Path, files: Collection[Path] | None
) -> tuple[list[FoundFrame], list[str]]:
    """The frames of one folder: as its list has them, else in natural order of their names."""
    wanted = _files_in(folder) if files is None else files
    list_path = folder / NAME
    if not list_path.exists():
        return list(_all_frames(wanted)), []
    frame_list = read_frame_list(list_path)
    if files is None:
        return _by_list(folder, frame_list, wanted)
    return _with_list(frame_list, wanted)


def _files_in(folder: Path) -> list[Path]:
    try:
        inside = [path for path in folder.iterdir() if not path.name.startswith(".")]
        files = [path for path in inside if is_picture(path) or is_video(path)]
        there = [path for path in files if path.is_file()]
        # A link that leads nowhere is a frame that is lacking, and its place must not be closed.
        lacking = [path for path in files if path.is_symlink() and not os.path.exists(path)]
    except OSError as fault:
        problem = Problem("", f"cannot be read ({fault.strerror})", "check the permissions")
        raise BadFrames(folder, problem) from None
    if there:
        return there + lacking
    if not inside:
        raise BadFrames(folder, Problem("", "the folder is empty", "name the folder of frames"))
    names = ", ".join(sorted(path.name for path in inside)[:5])
    what = f"holds no picture and no video (but {names}{', ...' if len(inside) > 5 else ''})"
    raise BadFrames(folder, Problem("", what, _KNOWN))


def _all_frames(files: Iterable[Path]) -> Iterator[FoundFrame]:
    for path in sorted(files, key=lambda path: natural_key(path.name)):
        yield from _frames_in(path)


def _frames_in(path: Path) -> Iterator[FoundFrame]:
    """The frames of one file: itself, or each page or picture in it as name#0001, name#0002."""
    count = 1
    if is_video(path):
        from regscan.recording.video import frame_count

        count = frame_count(path)
    elif may_have_pages(path):
        from regscan.recording.picture import page_count

        count = page_count(path)
    name = _writable(path.name)
    if count == 1 and not is_video(path):
        yield FoundFrame(FrameInfo(name, 0), path)
        return
    for number in range(count):
        yield FoundFrame(FrameInfo(f"{name}#{number + 1:04d}", 0), path, number)


def _writable(name: str) -> str:
    """A file name that can stand in a table: bytes that are no text become \\udcff and so on."""
    return name.encode("utf-8", "backslashreplace").decode("utf-8")


def _by_list(
    folder: Path, frame_list: FrameList, files: Collection[Path]
) -> tuple[list[FoundFrame], list[str]]:
    """The frames in the order of the list. A listed file that is lacking stays a frame.

    It then counts as found and not usable, as a broken one does: its place in
    the run is known and must not be closed up.
    """
    there = {frame.info.name: frame for frame in _all_frames(files)}
    frames = [
        replace(there[info.name], info=info)
        if info.name in there
        else FoundFrame(info, folder / info.name)
        for info in frame_list.infos
    ]
    if not any(frame.path.exists() for frame in frames):
        first = shown(frames[0].info.name)
        what = f"none of the {len(frames)} frames it lists is in this folder, {first} the first"
        raise BadFrames(folder / NAME, Problem("frame", what, "write the file names as they are"))
    unlisted = len(there.keys() - {info.name for info in frame_list.infos})
    notes = list(frame_list.notes)
    if unlisted:
        notes.append(f"{unlisted} frames in the folder are not in its {NAME}: not used")
    return _in_time(frames), notes


def _with_list(
    frame_list: FrameList, files: Collection[Path]
) -> tuple[list[FoundFrame], list[str]]:
    """The files asked for, with what the list of their folder says of each."""
    known = {info.name: info for info in frame_list.infos}
    frames = [
        replace(frame, info=known.get(frame.info.name, frame.info)) for frame in _all_frames(files)
    ]
    lacking = sum(frame.info.name not in known for frame in frames)
    notes = [f"{lacking} of the frames given are not in {NAME}"] if lacking else []
    return _in_time(frames), notes


def _in_time(frames: list[FoundFrame]) -> list[FoundFrame]:
    """Frames of several cameras in the order they were taken, where all times are known."""
    if any(frame.info.time_s is None for frame in frames):
        return frames
    return sorted(frames, key=lambda frame: frame.info.time_s or 0.0)
