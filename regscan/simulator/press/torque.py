"""A gear with play: which flank carries depends on the sign of the torque through the mesh."""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from regscan.simulator.press.passage import Passage

STEP_S = 0.05


@dataclass(frozen=True, slots=True)
class Flank:
    """0 while the driving flank carries, size while the other one does.

    Torque is told as the acceleration that would need it (torque over inertia):
    bias_m_s2         of doctor blade and web pull together, + drives as gaining speed does.
    drag_per_m_min    how much that bias grows with speed, m/s^2 per m/min.
    dead_m_s2         below this much torque either way the teeth stay where they lie.

    With no bias the flank of the last ramp stays through the hold that follows; with
    more bias than dead torque the driving flank is back as soon as a slow-down ends.
    Before the run the driving flank carried.
    """

    size: float
    bias_m_s2: float = 0.0
    drag_per_m_min: float = 0.0
    dead_m_s2: float = 0.01
    kind: ClassVar[str] = "two levels"

    def at(self, passage: Passage, /) -> np.ndarray:
        """The amount at each moment."""
        profile = passage.profile
        clock = np.arange(profile.times_s[0], profile.times_s[-1] + 2 * STEP_S, STEP_S)
        torque = profile.gain_at(clock) + self.bias_m_s2
        torque = torque + self.drag_per_m_min * profile.speed_at(clock)
        pushed = np.where(np.abs(torque) > self.dead_m_s2, np.sign(torque), 0.0)
        # The last moment of a definite torque decides; none yet: the driving flank.
        last = np.maximum.accumulate(np.where(pushed != 0.0, np.arange(clock.size), -1))
        other = (last >= 0) & (pushed[last] < 0.0)
        place = np.searchsorted(clock, passage.time_s, side="right") - 1
        flank = other[np.clip(place, 0, clock.size - 1)] & (place >= 0)
        return np.where(flank, self.size, 0.0)
