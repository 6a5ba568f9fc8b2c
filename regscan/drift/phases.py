"""Frames grouped into standing, steady holds, speeding up and slowing down."""

import numpy as np

from regscan.drift.drift import Segment
from regscan.drift.frames import Frames
from regscan.drift.record import BRIDGED, Record, speed_record
from regscan.drift.spans import Span, phase_spans
from regscan.recording.speedlog import SpeedLog


def find_segments(frames: Frames, speed_log: SpeedLog | None) -> tuple[Segment, ...]:
    """The run cut into stretches of one phase, in order, each holding at least one frame.

    A frame in a gap of the record is in a segment of phase "unknown", as is every
    frame of a run without any speed. Borders are where the speed bends, which may
    lie between two frames.
    """
    if not len(frames):
        return ()
    record = speed_record(frames, speed_log)
    if record is None:
        record = Record("frames", np.empty(0), np.empty(0), np.arange(len(frames), dtype=float), ())
        return _segments(frames, record, [])
    return _segments(frames, record, phase_spans(record))


def _segments(frames: Frames, record: Record, spans: list[Span]) -> tuple[Segment, ...]:
    """Runs of frames that lie in one span and on one side of every gap."""
    which, side = _where(record, spans)
    new = np.flatnonzero((np.diff(which) != 0) | (np.diff(side) != 0)) + 1
    firsts, ends = [0, *new.tolist()], [*new.tolist(), len(frames)]
    return tuple(
        _segment(
            number,
            (first, end - 1),
            frames,
            record,
            spans[which[first]] if which[first] >= 0 else None,
        )
        for number, (first, end) in enumerate(zip(firsts, ends, strict=True), 1)
    )


def _where(record: Record, spans: list[Span]) -> tuple[np.ndarray, np.ndarray]:
    """For every frame: its span (-1 in a gap or off the record), and how many gaps lie before."""
    at = record.of_frames
    which = np.searchsorted([span.start for span in spans[1:]], at, side="right")
    unknown = np.full(len(at), not spans)
    if spans:
        slack = BRIDGED * float(np.median(np.diff(record.at))) if len(record.at) > 1 else 0.0
        unknown |= (at < record.at[0] - slack) | (at > record.at[-1] + slack)
    side = np.zeros(len(at), dtype=int)
    for start, end in record.gaps:
        unknown |= (at > start) & (at < end)
        side += at >= end
    which[unknown] = -1
    return which, side


def _segment(
    number: int, ends: tuple[int, int], frames: Frames, record: Record, span: Span | None
) -> Segment:
    first, last = ends
    at = record.of_frames
    start, end = float(at[first]), float(at[last])
    if span is not None:
        # A bend lies between the last frame before it and the first after it.
        if first > 0:
            start = float(np.clip(span.start, at[first - 1], at[first]))
        if last + 1 < len(at):
            end = float(np.clip(span.end, at[last], at[last + 1]))
    start_speed, end_speed = _speeds(span, start, end)
    return Segment(
        number=number,
        phase=span.phase if span else "unknown",
        first_frame=first,
        last_frame=last,
        start_s=_between(frames.time_s, at, start),
        end_s=_between(frames.time_s, at, end),
        start_m=_between(frames.web_m, at, start),
        end_m=_between(frames.web_m, at, end),
        start_speed_m_min=start_speed,
        end_speed_m_min=end_speed,
    )


def _speeds(span: Span | None, start: float, end: float) -> tuple[float | None, float | None]:
    if span is None:
        return None, None
    ends, speeds = [span.start, span.end], [span.start_speed_m_min, span.end_speed_m_min]
    return float(np.interp(start, ends, speeds)), float(np.interp(end, ends, speeds))


def _between(values: np.ndarray, at: np.ndarray, where: float) -> float | None:
    """A frame measure at a place between two frames; None unless both frames know it."""
    after = int(np.clip(np.searchsorted(at, where), 0, len(at) - 1))
    before = max(after - 1, 0) if at[after] > where else after
    if not np.isfinite(values[[before, after]]).all():
        return None
    return float(np.interp(where, at[[before, after]], values[[before, after]]))
