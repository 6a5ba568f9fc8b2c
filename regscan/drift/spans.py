"""Straight pieces of a speed record named: standing, hold, speeding up, slowing down."""

from dataclasses import dataclass

import numpy as np

from regscan.drift.drift import Phase
from regscan.drift.pieces import Piece, straight_pieces
from regscan.drift.record import Record

STANDING_M_MIN = 2.0  # slower than this the web stands, as far as a tacho can tell
STEADY_M_MIN = 3.0  # a piece that changes less than this holds its speed ...
STEADY_SHARE = 0.05  # ... or less than this share of the run's top speed


@dataclass(frozen=True, slots=True)
class Span:
    """A part of the speed record in one phase; start and end in the record's own measure."""

    phase: Phase
    start: float
    end: float
    start_speed_m_min: float
    end_speed_m_min: float


def phase_spans(record: Record) -> list[Span]:
    """The whole record as spans; neighbouring pieces that do the same are one span."""
    top = max(float(np.percentile(record.speed_m_min, 95)), 0.0)
    steady = max(STEADY_M_MIN, STEADY_SHARE * top)
    spans: list[Span] = []
    for piece in straight_pieces(record.at, record.speed_m_min):
        span = _span(piece, steady)
        before = spans[-1] if spans else None
        if before and before.phase == span.phase and _goes_on(before, span, steady):
            spans[-1] = _joined(before, span)
        else:
            spans.append(span)
    return spans


def _span(piece: Piece, steady: float) -> Span:
    start, end = piece.start_speed_m_min, piece.end_speed_m_min
    if abs(end - start) > steady:
        phase: Phase = "speeding up" if end > start else "slowing down"
        return Span(phase, piece.start, piece.end, max(start, 0.0), max(end, 0.0))
    level = max((start + end) / 2.0, 0.0)
    return Span(
        "standing" if level < STANDING_M_MIN else "hold", piece.start, piece.end, level, level
    )


def _goes_on(before: Span, span: Span, steady: float) -> bool:
    """False for a sudden step from one hold to another: these stay two holds."""
    if span.phase != "hold":
        return True
    return abs(span.start_speed_m_min - before.end_speed_m_min) <= steady


def _joined(before: Span, span: Span) -> Span:
    if span.phase in ("hold", "standing"):
        long, other = before.end - before.start, span.end - span.start
        share = long / (long + other) if long + other > 0 else 0.5
        level = share * before.start_speed_m_min + (1.0 - share) * span.start_speed_m_min
        return Span(span.phase, before.start, span.end, level, level)
    return Span(span.phase, before.start, span.end, before.start_speed_m_min, span.end_speed_m_min)
