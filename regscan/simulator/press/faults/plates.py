"""Faults of one plate or its cylinder: the web does not know of them."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar, Literal

from regscan.simulator.press.effects import Drive, Effect, PlateTerm
from regscan.simulator.press.faults.fault import SECONDS_PER_MINUTE, UM_PER_MM, Fault, Pattern
from regscan.simulator.press.heat import Warming
from regscan.simulator.press.machine import Machine
from regscan.simulator.press.periodic import RoundLine, RoundWave
from regscan.simulator.press.signals import Always, Creep, StepAt
from regscan.simulator.press.torque import Flank


@dataclass(frozen=True)
class PlateRunOut(Fault):
    """A plate cylinder or sleeve that is not round: constant with one mark per repeat.

    tir_mm   total indicator reading; 10-25 um for good work [M]. The print moves by half of it.
    """

    name: ClassVar[str] = "plate-run-out"
    usual: ClassVar[Pattern] = "one"
    sizes: ClassVar[tuple[str, ...]] = ("tir_mm",)
    station: int
    tir_mm: float = 0.03
    order: int = 1
    phase_deg: float = 0.0

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """A sine round the repeat."""
        size, phase = UM_PER_MM * self.tir_mm / 2.0, math.radians(self.phase_deg)
        wave = RoundWave(size, machine.repeat_m, self.order, phase)
        return [PlateTerm(self.station, "circumferential", wave)]


@dataclass(frozen=True)
class PlateMounting(Fault):
    """A plate put on off its place, or turned: the same from the first metre on.

    turn_mrad   the drive-side end late; the print then also runs sideways round the repeat,
                toward the operator side as it goes toward the unwind (a rotation) [D].
    """

    name: ClassVar[str] = "plate-mounting"
    usual: ClassVar[Pattern] = "one"
    sizes: ClassVar[tuple[str, ...]] = ("circumferential_mm", "lateral_mm", "turn_mrad")
    station: int
    circumferential_mm: float = 0.0
    lateral_mm: float = 0.0
    turn_mrad: float = 0.3

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """Constants, and a line round the repeat."""
        skew = self.turn_mrad * machine.spacing_mm
        run = RoundLine(-1000.0 * self.turn_mrad, machine.repeat_m)
        return [
            PlateTerm(self.station, "circumferential", Always(UM_PER_MM * self.circumferential_mm)),
            PlateTerm(self.station, "lateral", Always(UM_PER_MM * self.lateral_mm)),
            PlateTerm(self.station, "skew", Always(skew)),
            PlateTerm(self.station, "lateral", run),
        ]


@dataclass(frozen=True)
class CockedCylinder(Fault):
    """A cylinder across the press: shears the print, without a sideways run [D].

    skew_mm   drive-side mark minus operator-side mark.
    """

    name: ClassVar[str] = "cocked-cylinder"
    usual: ClassVar[Pattern] = "one"
    sizes: ClassVar[tuple[str, ...]] = ("skew_mm",)
    station: int
    skew_mm: float = 0.1

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """Constant skew."""
        return [PlateTerm(self.station, "skew", Always(UM_PER_MM * self.skew_mm))]


@dataclass(frozen=True)
class PlateSlip(Fault):
    """Tape or sleeve gives way at once, and stays so. skew_mm: one end goes further."""

    name: ClassVar[str] = "plate-slip"
    usual: ClassVar[Pattern] = "one"
    sizes: ClassVar[tuple[str, ...]] = ("size_mm", "lateral_mm", "skew_mm")
    station: int
    at_m: float = 100.0
    size_mm: float = 0.08
    lateral_mm: float = 0.0
    skew_mm: float = 0.0

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """A step that does not return."""
        amounts = {
            "circumferential": self.size_mm,
            "lateral": self.lateral_mm,
            "skew": self.skew_mm,
        }
        return [
            PlateTerm(self.station, channel, StepAt(UM_PER_MM * mm, self.at_m))  # type: ignore[arg-type]
            for channel, mm in amounts.items()
            if mm
        ]


@dataclass(frozen=True)
class PlateCreep(Fault):
    """Tape or sleeve creeps one way, metre by metre."""

    name: ClassVar[str] = "plate-creep"
    usual: ClassVar[Pattern] = "one"
    sizes: ClassVar[tuple[str, ...]] = ("mm_per_km",)
    station: int
    mm_per_km: float = 0.1
    from_m: float = 0.0
    to_m: float = math.inf

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """A slow drift with metres (um per m are mm per km)."""
        creep = Creep(self.mm_per_km, self.from_m, self.to_m)
        return [PlateTerm(self.station, "circumferential", creep)]


@dataclass(frozen=True)
class Impression(Fault):
    """Impression set anew at at_m: a small step, 5-30 um [M].

    radius_ppm   how much the drum's working radius grew with it, where the nip meters web.
    """

    name: ClassVar[str] = "impression"
    usual: ClassVar[Pattern] = "one"
    sizes: ClassVar[tuple[str, ...]] = ("size_mm", "radius_ppm")
    station: int
    at_m: float = 100.0
    size_mm: float = 0.02
    radius_ppm: float = 0.0

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """A step of the plate's print, and one of the drum."""
        step = StepAt(UM_PER_MM * self.size_mm, self.at_m)
        effects: list[Effect] = [PlateTerm(self.station, "circumferential", step)]
        if self.radius_ppm:
            effects.append(Drive("drum_ppm", self.station, StepAt(self.radius_ppm, self.at_m)))
        return effects

    def pattern(self, machine: Machine) -> Pattern:
        """A stair where the nip meters the web."""
        return "stair" if self.radius_ppm and machine.metering.gripped else "one"


@dataclass(frozen=True)
class SideLayDrift(Fault):
    """The cylinder wanders sideways; helical gears turn it by dx = dy tan(helix) [D].

    follows   "time": creeps with tau_min; "torque": thrust play, by the sign of the torque.
    """

    name: ClassVar[str] = "side-lay-drift"
    usual: ClassVar[Pattern] = "one"
    sizes: ClassVar[tuple[str, ...]] = ("size_mm",)
    station: int
    size_mm: float = 0.09
    helix_deg: float = 20.0
    follows: Literal["time", "torque"] = "time"
    tau_min: float = 4.0

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """Both axes in a fixed ratio."""
        aside = UM_PER_MM * self.size_mm
        along = aside * math.tan(math.radians(self.helix_deg))
        effects: list[Effect] = []
        for channel, size in (("lateral", aside), ("circumferential", along)):
            slow = Warming(size, SECONDS_PER_MINUTE * self.tau_min)
            signal = slow if self.follows == "time" else Flank(size)
            effects.append(PlateTerm(self.station, channel, signal))  # type: ignore[arg-type]
        return effects
