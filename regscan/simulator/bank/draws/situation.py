"""What a draw knows of the run that its fault will happen in, and how it chooses."""

from dataclasses import dataclass

import numpy as np

from regscan.job.job import Job
from regscan.simulator.bank.stage import Stage
from regscan.simulator.press.machine import Machine
from regscan.simulator.speed import SpeedProfile

MM = 1000.0


@dataclass(frozen=True)
class Situation:
    """One run before anything happens to it. edges: marks stand at both web edges."""

    rng: np.random.Generator
    job: Job
    machine: Machine
    stage: Stage
    edges: bool

    @property
    def profile(self) -> SpeedProfile:
        """Speed over time."""
        return self.stage.profile

    @property
    def length_m(self) -> float:
        """Web of the whole run."""
        return self.stage.length_m

    @property
    def every_m(self) -> float:
        """Web between two frames at one place round the repeat."""
        return self.stage.every_m

    @property
    def duration_min(self) -> float:
        """Length of the run."""
        return self.profile.duration_s / 60.0

    @property
    def fastest(self) -> float:
        """Highest speed, m/min."""
        return max(self.profile.speeds_m_min)

    @property
    def slowest(self) -> float:
        """Lowest speed, m/min."""
        return min(self.profile.speeds_m_min)

    def between(self, low: float, high: float) -> float:
        """A size between, small ones as likely as large ones (even in the logarithm)."""
        return float(np.exp(self.rng.uniform(np.log(low), np.log(high))))

    def either(self, size: float) -> float:
        """That size with either sign."""
        return size if self.rng.random() < 0.5 else -size

    def chance(self, share: float) -> bool:
        """True so often."""
        return bool(self.rng.random() < share)

    def station(self) -> int:
        """Any station; the reference as seldom as any other."""
        return int(self.rng.integers(1, self.machine.stations + 1))

    def span(self) -> int:
        """A station with a span before it."""
        return int(self.rng.integers(2, self.machine.stations + 1))

    def moment_m(self) -> float:
        """A place along the run, away from its ends."""
        return round(float(self.rng.uniform(0.2, 0.75)) * self.length_m, 2)

    def tau_min(self, least: float, most: float) -> float:
        """A time constant within these, that the run is long enough to show."""
        share = self.between(0.12, 0.4) * self.duration_min
        return round(float(np.clip(share, min(least, 0.4 * self.duration_min), most)), 3)

    def wavelength_mm(self, low: float, high: float) -> float:
        """A girth whose beat with the frames is neither slow nor on every other frame."""
        for _ in range(200):
            length = float(self.rng.uniform(low, high))
            cycles = self.every_m * MM / length
            if 0.03 < abs(cycles - round(cycles)) < 0.47:
                break
        return round(length, 2)
