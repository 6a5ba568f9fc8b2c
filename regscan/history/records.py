"""What a history keeps of a run: plain frozen records. What is not known is None."""

from dataclasses import dataclass
from typing import Literal, get_args

from regscan.job.job import Axis

Measure = Literal["play", "speed term", "warm-up", "noise"]
MEASURES: tuple[Measure, ...] = get_args(Measure)

UNITS: dict[Measure, str] = {
    "play": "mm",
    "speed term": "mm per 100 m/min",
    "warm-up": "mm",
    "noise": "mm",
}
MEANS: dict[Measure, str] = {
    "play": "distance of the two levels that a station prints at, by the direction of its load",
    "speed term": "how far the print moves when the press runs 100 m/min faster, + is late",
    "warm-up": "how far the print moves over the run as the press warms, + is late",
    "noise": "one standard deviation of single frames about what the run explains",
}


@dataclass(frozen=True, slots=True)
class Entry:
    """One run as the history lists it.

    number   its number in this history; 0 before it is in one.
    key      digest of its run.json: the same run is never kept twice.
    made_at  when it was measured, ISO 8601, as its run.json says.
    speed_m_min   at which its settled offsets hold.
    note     what people wrote beside it.
    """

    number: int
    key: str
    made_at: str
    kind: str
    job: str
    press: str
    reference: str
    answer: str
    folder: str
    frames_found: int
    frames_used: int
    metres: float | None
    metres_outside: float | None
    speed_m_min: float | None
    regscan_version: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Reading:
    """One measure of one station in one run.

    value   in the measure's unit (UNITS); None: it was looked for and is too small to be found.
    sd      one standard deviation of value; None where not known.

    A run that cannot show a measure (no change of speed: no speed term) has no reading of it.
    """

    station: int
    ink: str
    axis: Axis
    measure: Measure
    value: float | None
    sd: float | None
    tolerance_mm: float


@dataclass(frozen=True, slots=True)
class Setting:
    """Where one station lay on one axis: at the first hold of a run and at its end, mm.

    move_mm, words   what was advised at the end.
    """

    station: int
    ink: str
    axis: Axis
    first_mm: float | None
    first_sd_mm: float | None
    last_mm: float | None
    last_sd_mm: float | None
    speed_m_min: float | None
    step_mm: float
    tolerance_mm: float
    move_mm: float | None
    words: str


@dataclass(frozen=True, slots=True)
class Kept:
    """Everything that goes into a history of one run; document is its run.json."""

    entry: Entry
    readings: tuple[Reading, ...]
    settings: tuple[Setting, ...]
    document: bytes
