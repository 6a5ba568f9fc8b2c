"""What differs between two runs, station by station: plain records, ready for comparison.json."""

from dataclasses import dataclass
from typing import Literal

from regscan.job.job import Axis

FORMAT = 1

What = Literal["setting", "change with speed", "worst excursion", "noise", "term"]


@dataclass(frozen=True, slots=True)
class Compared:
    """One number of one station, now and before.

    what, detail   which number: of which speeds, which ramp, which term.
    now, before    in `unit`; sd: one standard deviation of their difference (for noise: of the
                   logarithm of their ratio).
    p              how often chance alone makes as much of a difference.
    changed        True where it is more than chance can make, all comparisons taken together.
    """

    station: int
    ink: str
    axis: str
    camera: str
    edge: str
    what: What
    detail: str
    unit: str
    now: float
    before: float
    sd: float
    p: float
    changed: bool = False


@dataclass(frozen=True, slots=True)
class MetresCompared:
    """Web outside tolerance, now and before; follows from the rest and is not tested itself."""

    station: int
    ink: str
    axis: Axis
    camera: str
    edge: str
    now_m: float | None
    before_m: float | None


@dataclass(frozen=True, slots=True)
class Comparison:
    """This run against an earlier one.

    before      where the earlier one was read from; before_made_at: when it was measured.
    compared    every number that was compared; metres: what was outside tolerance.
    stations    numbers of those that have changed, in print order.
    sentences   what has changed, for people; notes: what could not be compared, and why.
    """

    before: str
    before_made_at: str
    method: str
    compared: tuple[Compared, ...]
    metres: tuple[MetresCompared, ...]
    stations: tuple[int, ...]
    sentences: tuple[str, ...]
    notes: tuple[str, ...]
    format: int = FORMAT
