"""Faults of the drive: gear play, wind-up, gears that are not round, servos that lag."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar, Literal

from regscan.simulator.press.effects import Drive, Effect, PlateTerm
from regscan.simulator.press.faults.fault import SECONDS_PER_MINUTE, UM_PER_MM, Fault, Pattern
from regscan.simulator.press.machine import Machine
from regscan.simulator.press.periodic import WaveM
from regscan.simulator.press.signals import WithGain, WithSpeed
from regscan.simulator.press.torque import Flank


@dataclass(frozen=True)
class Backlash(Fault):
    """Play in a plate gear: while the other flank carries, the plate prints early by size_mm.

    size_mm     30-150 um is usual [M]; the same at every rate of ramp.
    bias_m_s2, dead_m_s2   torque through the mesh, see press.torque.Flank.
    shared      the play is in a shared train: this station and all after it move.
    """

    name: ClassVar[str] = "backlash"
    usual: ClassVar[Pattern] = "one"
    sizes: ClassVar[tuple[str, ...]] = ("size_mm",)
    station: int
    size_mm: float = 0.05
    bias_m_s2: float = 0.0
    dead_m_s2: float = 0.01
    shared: bool = False

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """Two levels."""
        flank = Flank(-UM_PER_MM * self.size_mm, self.bias_m_s2, dead_m_s2=self.dead_m_s2)
        last = machine.stations if self.shared else self.station
        moved = range(self.station, last + 1)
        return [PlateTerm(number, "circumferential", flank) for number in moved]

    def pattern(self, machine: Machine) -> Pattern:
        """A stair when the train is shared."""
        return "stair" if self.shared else "one"


@dataclass(frozen=True)
class WindUp(Fault):
    """The shaft twists with torque, most between the stations near the motor [M].

    size_mm             the far end's lateness at 150 m/min against standstill.
    gain_mm_per_m_s2    the far end's lateness for gaining 1 m/s^2.
    motor               which end of the press drives the shaft.
    """

    name: ClassVar[str] = "wind-up"
    usual: ClassVar[Pattern] = "smooth"
    sizes: ClassVar[tuple[str, ...]] = ("size_mm", "gain_mm_per_m_s2")
    size_mm: float = 0.1
    gain_mm_per_m_s2: float = 0.2
    motor: Literal["unwind", "rewind"] = "rewind"

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """No dead zone: in proportion to speed and to acceleration."""
        count = machine.stations
        # The piece of shaft next to the motor carries all stations' torque, the last but one.
        twists = [(count - k) * 2.0 / (count * (count - 1.0)) for k in range(1, count)]
        shares = [sum(twists[:k]) for k in range(count)]
        if self.motor == "rewind":
            shares.reverse()
        effects: list[Effect] = []
        for number, share in enumerate(shares, 1):
            speed = WithSpeed(share * UM_PER_MM * self.size_mm / 150.0)
            gain = WithGain(share * UM_PER_MM * self.gain_mm_per_m_s2)
            effects += [PlateTerm(number, "circumferential", part) for part in (speed, gain)]
        return effects


@dataclass(frozen=True)
class GearRunOut(Fault):
    """A gear that is not round, or whose teeth are not: the same metres at every speed.

    size_mm   amplitude on the web.
    where     "plate": an intermediate gear of that plate cylinder; "drum": the gear of the
              station's gripping drum, felt by all stations after it.
    """

    name: ClassVar[str] = "gear-run-out"
    usual: ClassVar[Pattern] = "one"
    sizes: ClassVar[tuple[str, ...]] = ("size_mm",)
    station: int
    size_mm: float = 0.015
    wavelength_mm: float = 381.0
    phase_deg: float = 0.0
    where: Literal["plate", "drum"] = "plate"

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """A wave in metres."""
        length, phase = self.wavelength_mm / 1000.0, math.radians(self.phase_deg)
        wave = WaveM(UM_PER_MM * self.size_mm, length, phase)
        if self.where == "plate":
            return [PlateTerm(self.station, "circumferential", wave)]
        return [Drive("drum_um", self.station, wave)]

    def pattern(self, machine: Machine) -> Pattern:
        """A stair from a drum."""
        return "stair" if self.where == "drum" else "one"


@dataclass(frozen=True)
class ServoDelay(Fault):
    """One drive lags by a time: late by speed times delay (10 us are 25 um at 150 m/min) [D].

    loop_mm_per_m_s2   following error of its loop for gaining 1 m/s^2.
    set_at_m_min       speed at which its register was set to zero.
    """

    name: ClassVar[str] = "servo-delay"
    usual: ClassVar[Pattern] = "one"
    sizes: ClassVar[tuple[str, ...]] = ("delay_us", "loop_mm_per_m_s2")
    station: int
    delay_us: float = 30.0
    loop_mm_per_m_s2: float = 0.0
    set_at_m_min: float = 0.0

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """Straight in speed, no loop; and what the loop adds in ramps."""
        lag = WithSpeed(self.delay_us / SECONDS_PER_MINUTE, self.set_at_m_min)
        parts: list[WithSpeed | WithGain] = [lag]
        if self.loop_mm_per_m_s2:
            parts.append(WithGain(UM_PER_MM * self.loop_mm_per_m_s2))
        return [PlateTerm(self.station, "circumferential", part) for part in parts]
