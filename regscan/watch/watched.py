"""What is known of a watched press at one moment: plain records that a page or table shows.

Offsets as everywhere: + is late, + is toward the drive side. What is not known is None.
"""

from dataclasses import dataclass
from typing import Literal

from regscan.job.job import Axis

Condition = Literal[
    "in register",
    "out of tolerance",
    "cannot be decided",
    "not found",
    "doubtful",
    "wait",
    "no frames",
    "no new frames",
    "reference",
    "not measurable",
]
"""How a station, or the press as a whole, stands."""

EventKind = Literal[
    "started",
    "new job",
    "zero approved",
    "move made",
    "move checked",
    "waited",
    "left tolerance",
    "back in tolerance",
    "lost",
    "found again",
    "shift",
    "early warning",
    "frame not used",
    "trouble",
]


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened. number counts from 1 and never repeats in a results folder.

    at      local time, ISO 8601.
    station 0 where it concerns none.
    """

    number: int
    at: str
    kind: EventKind
    words: str
    frame: str = ""
    web_m: float | None = None
    station: int = 0


@dataclass(frozen=True, slots=True)
class Point:
    """One frame of a trend. at: metres of web, or the frame's number where those are not known."""

    at: float
    mm: float | None


@dataclass(frozen=True, slots=True)
class AxisState:
    """One colour on one axis, by the camera and web edge that see it worst.

    now_mm, sd_mm   mean of the newest frames that count, and its standard deviation.
    words           the offset in words; view: which camera and edge, "" where there is one.
    warning         when it will leave tolerance if it goes on; "" for nothing to warn of.
    """

    axis: Axis
    condition: Condition
    tolerance_mm: float
    now_mm: float | None
    sd_mm: float | None
    words: str
    view: str
    warning: str
    trend: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class StationState:
    """One station: what to read from two metres first, then why. swatch: #rrggbb of its ink."""

    number: int
    ink: str
    swatch: str
    condition: Condition
    words: str
    axes: tuple[AxisState, ...]


@dataclass(frozen=True, slots=True)
class MoveAdvice:
    """One move to make now. move_mm, steps: signed as in corrections.csv.

    wait_m   web to let pass after it before a frame shows nothing but the new setting.
    """

    station: int
    ink: str
    axis: Axis
    move_mm: float
    steps: int
    words: str
    wait_m: float


@dataclass(frozen=True, slots=True)
class Wait:
    """A station that shows no new setting yet.

    left_m   web still to pass; None where the frames carry no web position, and then
             somebody has to say that it has passed.
    """

    station: int
    ink: str
    after: str
    total_m: float
    left_m: float | None
    words: str


@dataclass(frozen=True, slots=True)
class Actuator:
    """What a form needs to note a move that was not advised."""

    station: int
    ink: str
    circumferential_step_mm: float
    lateral_step_mm: float


@dataclass(frozen=True, slots=True)
class Counts:
    """Frames of this job: measured, not usable, and come but not yet measured."""

    measured: int = 0
    unusable: int = 0
    queued: int = 0


@dataclass(frozen=True, slots=True)
class Newest:
    """The newest measured frame. age_s: since it was measured; None where there is none."""

    frame: str = ""
    web_m: float | None = None
    speed_m_min: float | None = None
    age_s: float | None = None


@dataclass(frozen=True, slots=True)
class Watched:
    """Everything shown, at one moment.

    version   grows with every change.
    zero      what offsets count from, in words.
    along     what trends run along: "m" or "frames".
    picture   number of the newest marked-up frame, 0 where there is none yet.
    events    number of the newest event; the log itself goes its own way.
    """

    version: int
    job: str
    job_file: str
    press: str
    reference: str
    zero: str
    condition: Condition
    headline: str
    sentence: str
    stations: tuple[StationState, ...]
    moves: tuple[MoveAdvice, ...]
    waits: tuple[Wait, ...]
    remarks: tuple[str, ...]
    actuators: tuple[Actuator, ...]
    job_files: tuple[str, ...]
    counts: Counts
    newest: Newest
    along: Literal["m", "frames"]
    picture: int
    picture_frame: str
    events: int
