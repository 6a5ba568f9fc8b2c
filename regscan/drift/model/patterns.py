"""Patterns over stations: how much each of them moves when one thing moves.

one       only that station (the reference too: then all others seem to move the other way)
stair     that station and everything downstream alike
fan       grows with the web path from the first station on (or from the infeed nip before
          it); or up to, or from, a station
growing   grows ever faster with the web path
twist     grows fast near one end of the press and levels off: a shaft driven from that end
channel   the colours that one channel of a colour camera sees best
place     by the place of the mark in the frame, along the web
each      every station by its own amount
strain, span, spans, drum, drums, pull, side, roller, rollers
          the web answers to what acts on it, see regscan.drift.model.transport
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from regscan.drift.model.transport import DRIVES, Drive, Spans
from regscan.drift.model.views import View

Plain = Literal[
    "one",
    "stair",
    "fan",
    "fan to",
    "fan from",
    "growing",
    "twist",
    "channel",
    "place",
    "each",
]
PatternKind = Plain | Drive


@dataclass(frozen=True, slots=True)
class Pattern:
    """How much each observed station moves.

    at       index of the station it is named by among the observed ones, -1 for none.
    shares   one row per size that is free; mostly one.
    acts_at  index among all stations of the press at which a drive acts.
    """

    kind: PatternKind
    at: int
    shares: tuple[tuple[float, ...], ...]
    acts_at: int = 0

    @property
    def drive(self) -> Drive:
        """What acts on the web; only for patterns of the web."""
        assert self.kind in DRIVES
        return self.kind

    @property
    def sizes(self) -> int:
        """How many sizes are free."""
        return len(self.shares)


def press_patterns(spans: Spans) -> tuple[Pattern, ...]:
    """Every pattern of one size that the stations of a press can show."""
    count = len(spans.column)
    index = np.arange(count)
    path = spans.path_m - spans.path_m[0]
    found = [pattern("one", k, (index == k) * 1.0) for k in range(count)]
    found += [pattern("stair", k, (index >= k) * 1.0) for k in range(1, count)]
    if count > 2:
        found.append(fan(spans))
        found += [pattern("fan to", k, np.minimum(path, path[k])) for k in range(2, count - 1)]
        found += [
            pattern("fan from", k, np.maximum(path - path[k], 0.0)) for k in range(1, count - 2)
        ]
        found.append(pattern("growing", -1, path**2 / max(float(path[-1]), 1e-9)))
        found += _twists(spans)
    return tuple(found)


def fan(spans: Spans, lead_m: float = 0.0) -> Pattern:
    """Growing with the path, from lead_m before the first station on.

    What all stations have in common shows only while it changes, since they print at different
    moments.
    """
    return pattern("fan", -1, spans.path_m - spans.path_m[0] + lead_m)


def sight_patterns(view: View) -> tuple[Pattern, ...]:
    """Patterns that a camera's timing makes: colours of one channel, places in the frame."""
    found = [pattern("one", k, row) for k, row in enumerate(np.eye(len(view.channel)))]
    for number in range(3):
        seen = (view.channel == number) * 1.0
        if 1 < seen.sum() < len(seen):
            found.append(pattern("channel", number, seen))
    if np.ptp(view.place_mm) > 0.0:
        found.append(pattern("place", -1, view.place_mm - view.place_mm[0]))
    return tuple(found)


def _twists(spans: Spans) -> list[Pattern]:
    """The piece of shaft next to the motor carries the torque of all stations but one."""
    count = len(spans.span_m)
    twist = np.arange(count - 1, 0, -1.0)
    share = np.concatenate(([0.0], np.cumsum(twist))) / twist.sum()
    return [
        pattern("twist", 0, share[spans.column]),
        pattern("twist", len(spans.column) - 1, share[::-1][spans.column]),
    ]


def pattern(kind: PatternKind, at: int, share: np.ndarray) -> Pattern:
    """A pattern of one size."""
    return Pattern(kind, at, (tuple(float(s) for s in share),))


def each_station(count: int, told: np.ndarray, reference: int, first: int = 0) -> Pattern:
    """From index `first` on every station by its own amount; the reference only seems to move.

    told   indices, among all `count` observed, of the stations whose values tell something.

    It is named by the first station that moves, which the reference at the head of the press
    does not.
    """
    told_or_seeming = set(told.tolist()) | ({reference} if first else set())
    moving = sorted(k for k in told_or_seeming if k >= first)
    return Pattern("each", moving[0], tuple(map(tuple, np.eye(count)[moving].tolist())))


def web_pattern(drive: Drive, spans: Spans, at: int = -1) -> Pattern:
    """The web's answer to a drive, at the observed station with that index where it needs one."""
    acts_at = int(spans.column[at]) if at >= 0 else 0
    return Pattern(drive, at, ((1.0,) * len(spans.column),), acts_at)
