"""What a station's register actuator does, as the job says it or as logged moves showed it."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from regscan.job.job import Axis, Station

STATED_SD = 0.03
"""How well a stated step is trusted, as a share of it (common practice, no source)."""

Key = tuple[int, Axis]
"""A station's number and an axis."""


@dataclass(frozen=True, slots=True)
class Actuator:
    """One station's actuator on one axis; lengths in mm on the web.

    step_mm     what one step moves the print; negative where the actuator runs against
                its own scale.
    play_mm     lost when its direction turns round.
    step_sd     one standard deviation of step_mm as a share of it.
    play_sd_mm  one standard deviation of play_mm.
    learned     False where nothing but the job speaks for it.
    """

    step_mm: float
    play_mm: float = 0.0
    step_sd: float = 0.0
    play_sd_mm: float = 0.0
    learned: bool = False

    def unsure_mm(self, move_mm: float) -> float:
        """How far a move may miss: twice the doubt of its step, and play while it is not known
        how the station was last moved."""
        if not move_mm:
            return 0.0
        play = self.play_sd_mm * 2.0 if self.learned else self.play_mm
        return 2.0 * self.step_sd * abs(move_mm) + play

    def steps_for(self, move_mm: float) -> int:
        """Whole steps nearest to a move; half a step goes outward."""
        steps = math.floor(abs(move_mm / self.step_mm) + 0.5)
        return int(math.copysign(steps, move_mm / self.step_mm)) if steps else 0


def actuator_of(station: Station, axis: Axis, learned: Mapping[Key, Actuator]) -> Actuator:
    """The learned actuator where there is one, else the job's."""
    stated = Actuator(station.steps.of(axis), station.play.of(axis), STATED_SD)
    return learned.get((station.number, axis), stated)
