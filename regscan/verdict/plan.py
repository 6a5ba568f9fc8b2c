"""Records of a plan of moves: what to do in which order, what it costs, how it ends."""

from dataclasses import dataclass
from typing import Literal

from regscan.job.job import Axis

PlanName = Literal["fewest moves", "all to the reference"]


@dataclass(frozen=True, slots=True)
class Move:
    """One move, in the order in which to make it.

    move_mm, steps  signed as offsets are: + retards, + is toward the drive side.
    degrees         turn of the plate cylinder; None on the lateral axis.
    words           in the trade's words, and in the press's own where the job has them.
    approach        how to take up the play; "" where there is none.
    wait_m, wait_s  web (and time at the run's speed; None where not known) until a frame
                    shows nothing but the new setting.
    """

    order: int
    station: int
    ink: str
    axis: Axis
    move_mm: float
    steps: int
    degrees: float | None
    words: str
    approach: str
    wait_m: float
    wait_s: float | None


@dataclass(frozen=True, slots=True)
class Outcome:
    """Where a colour is expected after the plan, with its 95 % interval.

    remaining_mm    at the web edge that ends further from zero, with its sign.
    sd_mm           one standard deviation of it, without play; None where the level's
                    doubt is not known.
    share           |remaining_mm| as a share of the tolerance.
    inside          within tolerance, with the margin the plan asks for.
    """

    station: int
    ink: str
    axis: Axis
    remaining_mm: float
    sd_mm: float | None
    low_mm: float
    high_mm: float
    share: float
    inside: bool


@dataclass(frozen=True, slots=True)
class Cost:
    """What a plan costs; less is better, the first number that differs deciding."""

    outside: int
    stations: int
    moves: int
    worst_share: float
    travel_mm: float


@dataclass(frozen=True, slots=True)
class Plan:
    """A whole plan. wait_m: web until all moves show; cautions: what it cannot do."""

    name: PlanName
    moves: tuple[Move, ...]
    outcomes: tuple[Outcome, ...]
    cost: Cost
    wait_m: float
    wait_s: float | None
    cautions: tuple[str, ...]
