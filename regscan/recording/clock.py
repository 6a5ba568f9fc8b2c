"""When each frame was taken and how much web had passed: from the best source there is.

Values of frames.csv come first and are never replaced. What it leaves out comes
from the speed log, else from a fixed pitch between frames. What none of them
tells stays None.
"""

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from regscan.errors import BadFrames, BadSpeedLog, Problem
from regscan.recording.frame import FrameInfo
from regscan.recording.speedlog import Numbers, SpeedLog


@dataclass(frozen=True, slots=True)
class Pitch:
    """The step from one frame of a camera to its next, where it is fixed: s, or m of web."""

    every_s: float | None = None
    every_m: float | None = None


@dataclass(frozen=True, slots=True)
class Clocked:
    """Frames with their times and web positions, how these were obtained, and what was odd."""

    infos: tuple[FrameInfo, ...]
    words: str
    notes: tuple[str, ...]


def check_pitch(pitch: Pitch, folder: str) -> None:
    """Raise BadFrames for a pitch that is not a positive length or time."""
    problems = [
        Problem(option, f"must be more than 0, not {value:g}", f"give {unit} between two frames")
        for option, value, unit in (
            ("--every-s", pitch.every_s, "seconds"),
            ("--every-m", pitch.every_m, "metres of web"),
        )
        if value is not None and not (math.isfinite(value) and value > 0)
    ]
    if problems:
        raise BadFrames(folder, problems)


def set_clock(
    frames: Sequence[FrameInfo], log: SpeedLog | None, pitch: Pitch, listed: str
) -> Clocked:
    """Give every frame what is known of its time, web position and speed.

    frames   in the order of the run, with the values of frames.csv where there is one.
    listed   what to call the source of those values.

    Raises BadSpeedLog when the log and the frames have no moment in common.
    """
    notes: list[str] = []
    infos, time_words = _times(frames, pitch, listed, notes)
    times = [info.time_s for info in infos if info.time_s is not None]
    if log is not None and not times:
        notes.append(
            "the speed log was not used: the frames have no times; give time_s in"
            " frames.csv, or --every-s"
        )
        log = None
    elif log is not None:
        _check_overlap(log, times)
    infos, speed_words = _speeds(infos, log, listed)
    source = log or _log_of(infos)
    source_name = "the speed log" if log else f"the speeds of {listed}"
    if any(info.web_m is not None for info in infos):
        # A computed position counts from another start, so it must not stand among these.
        web_words = f"from {listed}"
    elif source is not None:
        infos = _filled(infos, "web_m", source.web_at)
        web_words = f"{source_name} integrated over time"
    else:
        infos, web_words = _paced(infos, pitch)
    if pitch.every_m is not None and not web_words.startswith("one frame"):
        notes.append(f"--every-m was not used: web positions are known ({web_words})")
    if source is not None and source.gaps:
        notes.append(_gap_note(source, source_name))
    notes += _holes(infos)
    words = f"time: {time_words}; web: {web_words}; speed: {speed_words}"
    return Clocked(tuple(infos), words, tuple(notes))


def _counted(frames: Sequence[FrameInfo]) -> list[int]:
    """Each frame's number among those of its own camera and edge: 0, 1, 2 ..."""
    seen: Counter[tuple[str, str]] = Counter()
    numbers = []
    for frame in frames:
        key = frame.camera, frame.edge
        numbers.append(seen[key])
        seen[key] += 1
    return numbers


def _times(
    frames: Sequence[FrameInfo], pitch: Pitch, listed: str, notes: list[str]
) -> tuple[list[FrameInfo], str]:
    if any(frame.time_s is not None for frame in frames):
        if pitch.every_s is not None:
            notes.append(f"--every-s was not used: {listed} gives times")
        return list(frames), f"from {listed}"
    if pitch.every_s is None:
        return list(frames), "not known"
    step = pitch.every_s
    numbers = _counted(frames)
    infos = [replace(f, time_s=k * step) for f, k in zip(frames, numbers, strict=True)]
    return infos, f"one frame every {step:g} s"


def _check_overlap(log: SpeedLog, times: list[float]) -> None:
    if any(log.covers(time) for time in times):
        return
    what = (
        f"covers {log.time_s[0]:g} to {log.time_s[-1]:g} s, the frames"
        f" {min(times):g} to {max(times):g} s: no moment in common"
    )
    cure = "bring both onto one clock, or give another log"
    raise BadSpeedLog(log.path or "speed log", Problem("time_s", what, cure))


def _filled(
    frames: Sequence[FrameInfo], name: str, values_at: Callable[[Numbers], Numbers]
) -> list[FrameInfo]:
    """Frames with a value at their time where they have none yet and there is one."""
    times = [math.nan if frame.time_s is None else frame.time_s for frame in frames]
    infos = []
    for frame, value in zip(frames, values_at(np.array(times)).tolist(), strict=True):
        if getattr(frame, name) is None:
            known: Any = {name: None if math.isnan(value) else value}
            frame = replace(frame, **known)
        infos.append(frame)
    return infos


def _speeds(
    frames: list[FrameInfo], log: SpeedLog | None, listed: str
) -> tuple[list[FrameInfo], str]:
    given = sum(frame.speed_m_min is not None for frame in frames)
    if given == len(frames) or log is None:
        return frames, f"from {listed}" if given else "not known"
    words = "from the speed log" if not given else f"from {listed}, else from the speed log"
    return _filled(frames, "speed_m_min", log.speed_at), words


def _paced(frames: list[FrameInfo], pitch: Pitch) -> tuple[list[FrameInfo], str]:
    """Web positions from a fixed pitch, where there is one."""
    if pitch.every_m is None:
        return frames, "not known"
    step = pitch.every_m
    numbers = _counted(frames)
    infos = [replace(f, web_m=k * step) for f, k in zip(frames, numbers, strict=True)]
    return infos, f"one frame every {step:g} m"


def _log_of(frames: list[FrameInfo]) -> SpeedLog | None:
    """A speed log made of the frames' own speeds; None when they do not make one."""
    samples = {f.time_s: f.speed_m_min for f in frames if None not in (f.time_s, f.speed_m_min)}
    if len(samples) < 2:
        return None
    times = np.array(sorted(time for time in samples if time is not None))
    return SpeedLog.of(times, np.array([samples[time] for time in times], dtype=float))


def _gap_note(log: SpeedLog, name: str) -> str:
    spans = ", ".join(f"{start:g} to {end:g} s" for start, end in log.gaps[:5])
    more = f" and {len(log.gaps) - 5} more" if len(log.gaps) > 5 else ""
    return (
        f"gaps in {name}: {spans}{more}; no speed is given inside a gap and no web"
        " position after it"
    )


def _holes(frames: list[FrameInfo]) -> list[str]:
    """What is known of some frames and not of others, in words."""
    notes = []
    for name, what in (("time_s", "time"), ("web_m", "web position"), ("speed_m_min", "speed")):
        lacking = sum(getattr(frame, name) is None for frame in frames)
        if 0 < lacking < len(frames):
            notes.append(f"{what} is not known for {lacking} of {len(frames)} frames")
    return notes
