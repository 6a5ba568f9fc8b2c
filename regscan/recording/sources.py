"""A recording: which frames there are, in which order, and how to get each one's pixels.

A frame is a picture file, a page of one, or a picture of a video. Opening a
recording reads no pixels, so it costs the same for one frame as for thousands.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from regscan.recording.clock import Pitch, check_pitch, set_clock
from regscan.recording.found import common_folder, find_frames
from regscan.recording.frame import Frame, FrameInfo
from regscan.recording.kinds import is_video
from regscan.recording.speedlog import SpeedLog


@dataclass(frozen=True, slots=True)
class FrameSource:
    """Where one frame's pixels are; small, and can be sent to another process.

    number   which picture of a video, or which page of a file, from 0; None for
             a file that holds one picture.
    """

    info: FrameInfo
    path: Path
    number: int | None = None


@dataclass(frozen=True, slots=True)
class Recording:
    """The frames of a run in order.

    folder   the folder that holds them all.
    clock    how times, web positions and speeds were obtained, in words.
    notes    what was odd (gaps, files not listed, values not known), in words.
    """

    sources: tuple[FrameSource, ...]
    folder: str
    clock: str
    notes: tuple[str, ...]


def open_recording(
    paths: Sequence[Path],
    *,
    speed_log: SpeedLog | None = None,
    every_s: float | None = None,
    every_m: float | None = None,
) -> Recording:
    """The frames of the given folders and files, each with its time and place on the web.

    paths     folders, picture files, video files; a pattern such as `run/*.png`
              that the shell left alone is looked up here.
    every_s, every_m   fixed pitch between frames, s and m of web, for frames
              without a list and a log.

    A folder's frames.csv says which of its frames count, in which order, with
    which values; without it, all of them in natural order of their names.
    Raises BadFrames when there is no frame or the list is wrong, BadSpeedLog
    when the log and the frames have no moment in common.
    """
    folder = common_folder(paths)
    pitch = Pitch(every_s, every_m)
    check_pitch(pitch, folder)
    found = find_frames([Path(path) for path in paths], folder)
    infos = [replace(one.info, index=k) for k, one in enumerate(found.frames)]
    clocked = set_clock(infos, speed_log, pitch, found.listed)
    return Recording(
        sources=tuple(
            FrameSource(info, one.path, one.number)
            for info, one in zip(clocked.infos, found.frames, strict=True)
        ),
        folder=folder,
        clock=clocked.words,
        notes=(*found.notes, *clocked.notes),
    )


def read_frame(source: FrameSource, wanted: slice | None = None) -> Frame:
    """The pixels of one frame. Raises BadFrames with one problem when it cannot be read.

    wanted   rows that will be looked at; where the kind of file allows it, those below are left
             out and those above may be black. None: all.

    Colour comes as R, G, B and mono as H x W, 8 or 16 bit as in the file; an
    alpha channel is left out, and a turn noted in the file is not applied: the
    camera file says how the image lies.
    """
    if is_video(source.path):
        from regscan.recording.video import read_video_frame

        return Frame(source.info, read_video_frame(source.path, source.number or 0))
    from regscan.recording.picture import read_picture, read_upper

    if wanted is None or source.number is not None:
        return Frame(source.info, read_picture(source.path, source.number))
    return Frame(source.info, *read_upper(source.path, wanted))
