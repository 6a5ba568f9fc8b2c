"""Pictures of a video, by number.

A video is read forward: asking for the next picture is cheap, asking for an
earlier one starts anew. Each thread keeps the one video it read last open.
"""

import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

import numpy as np

from regscan.errors import BadFrames, Problem
from regscan.recording.picture import LARGEST_PIXELS
from regscan.recording.quiet import quiet_cv2

# Further ahead than this, jumping to the picture is tried before reading on to it.
_READ_ON = 50


@dataclass
class _Playing:
    """An open video and the number of the picture it gives next."""

    path: Path
    capture: Any
    next: int = 0


_mine = threading.local()


def _bad(path: Path, what: str) -> BadFrames:
    cure = "save it again, or give the frames as pictures, which are also sharper"
    return BadFrames(path, Problem("", what, cure))


def _open(path: Path) -> Any:
    cv2 = quiet_cv2()
    capture = cv2.VideoCapture(str(path))
    if not path.exists() or not capture.isOpened():
        capture.release()
        what = "is not a video that can be read" if path.exists() else "there is no such file"
        raise _bad(path, what)
    size = capture.get(cv2.CAP_PROP_FRAME_WIDTH) * capture.get(cv2.CAP_PROP_FRAME_HEIGHT)
    if size > LARGEST_PIXELS:
        capture.release()
        raise _bad(path, f"has more than {LARGEST_PIXELS:,} pixels in a picture")
    return capture


def frame_count(path: Path) -> int:
    """How many pictures a video says it has, counted where it does not say.

    1 for a video that cannot be read: it stays one frame, and reading it says why.
    """
    cv2 = quiet_cv2()
    try:
        capture = _open(path)
    except BadFrames:
        return 1
    count = int(capture.get(cv2.CAP_PROP_FRAME_COUNT))
    if count <= 0:
        count = 0
        while capture.grab():
            count += 1
    capture.release()
    return max(count, 1)


def read_video_frame(path: Path, number: int) -> np.ndarray:
    """H x W x 3 uint8 (R, G, B): picture `number`, from 0. Raises BadFrames with one problem."""
    cv2 = quiet_cv2()
    playing = _at(path, number)
    done, pixels = playing.capture.read()
    playing.next = number + 1
    if not done or pixels is None:
        forget_video()
        raise _bad(path, f"picture {number + 1} cannot be read")
    if pixels.ndim == 2:
        return cast(np.ndarray, pixels)
    return cast(np.ndarray, cv2.cvtColor(pixels, cv2.COLOR_BGR2RGB))


def forget_video() -> None:
    """Close the video this thread keeps open, if any."""
    playing: _Playing | None = getattr(_mine, "playing", None)
    if playing is not None:
        playing.capture.release()
        _mine.playing = None


def _at(path: Path, number: int) -> _Playing:
    """The video, open, so that the next picture read is that number."""
    cv2 = quiet_cv2()
    playing: _Playing | None = getattr(_mine, "playing", None)
    if playing is None or playing.path != path or playing.next > number:
        forget_video()
        playing = _mine.playing = _Playing(path, _open(path))
    if number - playing.next > _READ_ON and playing.capture.set(cv2.CAP_PROP_POS_FRAMES, number):
        playing.next = int(playing.capture.get(cv2.CAP_PROP_POS_FRAMES))
        if playing.next > number:  # it jumped too far: begin again and read on
            forget_video()
            playing = _mine.playing = _Playing(path, _open(path))
    while playing.next < number and playing.capture.grab():
        playing.next += 1
    return playing
