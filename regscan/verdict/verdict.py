"""Correction and verdict records, ready for run.json and corrections.csv."""

from dataclasses import dataclass
from typing import Literal

from regscan.job.job import Axis

Answer = Literal["in register", "out of tolerance", "cannot be decided"]

EXIT_CODES: dict[Answer, int] = {
    "in register": 0,
    "out of tolerance": 1,
    "cannot be decided": 4,
}


@dataclass(frozen=True, slots=True)
class Correction:
    """One move of one station on one axis.

    move_mm       minus the settled offset, rounded to whole steps; 0 = leave alone.
    steps         whole steps of the station's actuator, signed like move_mm.
    words         "advance 0.12 mm", "move 0.05 mm toward operator side", "leave", "not measured".
    remaining_mm  offset expected after the move; sd_mm is one standard deviation of it: that
                  of the level, and 3 % of the move, since true steps differ from stated ones.
    """

    station: int
    ink: str
    axis: Axis
    move_mm: float | None
    steps: int | None
    words: str
    remaining_mm: float | None
    sd_mm: float | None


@dataclass(frozen=True, slots=True)
class Case:
    """The gate's answer for one station and axis, with what it rests on.

    probability     conformance probability p = P(|true offset| <= tolerance).
    frames_needed   good frames in all that would decide at this noise; None where no
                    number would, or the noise is not known.
    """

    station: int
    ink: str
    camera: str
    edge: str
    axis: Axis
    tolerance_mm: float
    offset_mm: float | None
    sd_mm: float | None
    probability: float | None
    frames: int
    answer: Answer
    why: str
    frames_needed: int | None = None


@dataclass(frozen=True, slots=True)
class Verdict:
    """The gate's answer for the run."""

    answer: Answer
    sentence: str
    cases: tuple[Case, ...]
    rule: str

    @property
    def exit_code(self) -> int:
        """The contract's exit code of this answer."""
        return EXIT_CODES[self.answer]
