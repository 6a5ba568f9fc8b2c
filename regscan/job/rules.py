"""What the job says of moving the press and of judging it: plain records.

Defaults are those that docs/how/corrections.md and docs/how/gate.md explain.
"""

from dataclasses import dataclass
from typing import Literal

Decision = Literal["prove conformity", "simple acceptance", "prove nonconformity"]
Rule = Literal["levels", "metres outside", "share inside", "excursions", "capability", "skew"]


@dataclass(frozen=True, slots=True)
class DirectionWords:
    """What this press writes on its own controls for each direction; "" for nothing."""

    advance: str = ""
    retard: str = ""
    operator_side: str = ""
    drive_side: str = ""


@dataclass(frozen=True, slots=True)
class GateRules:
    """What a run must keep to pass, and how doubt counts.

    rules                  which rules are asked; that a colour must be seen always is.
    decision, confidence   who has to prove what, and how surely.
    least_frames           good frames in the settled hold, without which nothing passes.
    most_metres_outside_m  "metres outside": of each colour.
    share_inside           "share inside": least share of good frames inside tolerance.
    worst_excursion_mm     "excursions": while the speed changes; None: the tolerance.
    least_capability       "capability": least index Cpk of the settled hold.
    most_skew_mm           "skew": between the web edges (width on the lateral axis);
                           None: the tolerance.
    missing_share, doubtful_share   frames without the colour, or with a doubtful mark,
                           from which on a colour cannot pass.
    """

    rules: tuple[Rule, ...] = ("levels", "metres outside")
    decision: Decision = "prove conformity"
    confidence: float = 0.95
    least_frames: int = 5
    most_metres_outside_m: float = 0.0
    share_inside: float = 0.95
    worst_excursion_mm: float | None = None
    least_capability: float = 1.33
    most_skew_mm: float | None = None
    missing_share: float = 0.1
    doubtful_share: float = 0.5


@dataclass(frozen=True, slots=True)
class AcceptanceRules:
    """What a run must hold so that two of them can be compared (docs/how/acceptance.md).

    name          shown with every answer; the default is common practice, no source.
    fast_m_min, slow_m_min   the two speeds held; within a tenth.
    times         how often down from fast to slow and back.
    hold_s        least time of each hold.
    rates_m_s2    accelerations that must each occur, within a third: two tell what goes with
                  the rate from play in gears. Empty: any will do.
    frames_in_hold, frames_in_ramp   least good frames of every colour.
    """

    name: str = "down to 50 m/min and back, twice (common practice, no source)"
    fast_m_min: float = 150.0
    slow_m_min: float = 50.0
    times: int = 2
    hold_s: float = 180.0
    rates_m_s2: tuple[float, ...] = (0.08, 0.04)
    frames_in_hold: int = 30
    frames_in_ramp: int = 10
