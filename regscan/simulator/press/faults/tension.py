"""Faults of tension: steps, inertia, drag, air under the web, rollers that are not round."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from regscan.simulator.press.effects import Drive, Effect
from regscan.simulator.press.faults.fault import UM_PER_MM, Fault, Pattern
from regscan.simulator.press.machine import Machine
from regscan.simulator.press.periodic import WaveM
from regscan.simulator.press.signals import StepAt, WithGain, WithSpeed


def _metered(machine: Machine, gripped: Pattern, otherwise: Pattern) -> Pattern:
    return gripped if machine.metering.gripped >= 0.5 else otherwise


@dataclass(frozen=True)
class TensionStep(Fault):
    """Tension set anew, or another brake: strain of the web changes by size_ppm.

    Ten per cent of the usual tension are about 100 ppm [D]. Every drum grips: an early dip
    that passes down the press and is gone after some metres; infeed-metered: a lasting fan.
    rise_m   metres over which the new tension comes up.
    """

    name: ClassVar[str] = "tension-step"
    usual: ClassVar[Pattern] = "cascade"
    sizes: ClassVar[tuple[str, ...]] = ("size_ppm",)
    at_m: float = 100.0
    size_ppm: float = 150.0
    rise_m: float = 0.0

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """Incoming strain."""
        return [Drive("incoming_ppm", 0, StepAt(self.size_ppm, self.at_m, self.rise_m))]

    def pattern(self, machine: Machine) -> Pattern:
        """A fan where infeed or outfeed meter."""
        return _metered(machine, "cascade", "fan")


@dataclass(frozen=True)
class UnwindInertia(Fault):
    """The unwind's or the idlers' inertia asks for tension while the web gains speed.

    ppm_per_m_s2         strain of the web that the roll's inertia costs.
    idler_ppm_per_m_s2   the same over the idlers of every span.
    """

    name: ClassVar[str] = "unwind-inertia"
    usual: ClassVar[Pattern] = "cascade"
    sizes: ClassVar[tuple[str, ...]] = ("ppm_per_m_s2", "idler_ppm_per_m_s2")
    ppm_per_m_s2: float = 1500.0
    idler_ppm_per_m_s2: float = 0.0

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """Blips at the corners of a ramp (gripped), or a fan during it."""
        effects = [Drive("incoming_ppm", 0, WithGain(self.ppm_per_m_s2))]
        if self.idler_ppm_per_m_s2:
            effects.append(Drive("drag_ppm", 0, WithGain(self.idler_ppm_per_m_s2)))
        return effects

    def pattern(self, machine: Machine) -> Pattern:
        """A fan where infeed or outfeed meter."""
        return _metered(machine, "cascade", "fan")


@dataclass(frozen=True)
class IdlerDrag(Fault):
    """Idlers that drag more the faster they turn, in one span or (station 0) in all.

    share   how far down the span the idler sits.
    """

    name: ClassVar[str] = "idler-drag"
    usual: ClassVar[Pattern] = "fan"
    sizes: ClassVar[tuple[str, ...]] = ("ppm_per_m_min",)
    anywhere: ClassVar[bool] = True
    station: int = 0
    ppm_per_m_min: float = 0.4
    share: float = 0.5

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """Tension rises over each idler, in proportion to speed."""
        return [Drive("drag_ppm", self.station, WithSpeed(self.ppm_per_m_min), self.share)]

    def pattern(self, machine: Machine) -> Pattern:
        """One dragging idler among gripping drums moves its span only: a stair."""
        return _metered(machine, "stair", "fan") if self.station else "fan"


@dataclass(frozen=True)
class AirFilm(Fault):
    """Above onset_m_min air gets under the web: drums (station 0: all) grip less.

    ppm_per_m_min    how much slower the drum then carries the web, per m/min above the onset.
    urad_per_m_min   how much of its skew the drum then loses, per m/min above the onset.
    Nothing happens along the web where the drums do not meter it.
    """

    name: ClassVar[str] = "air-film"
    usual: ClassVar[Pattern] = "fan"
    sizes: ClassVar[tuple[str, ...]] = ("ppm_per_m_min", "urad_per_m_min")
    anywhere: ClassVar[bool] = True
    station: int = 0
    onset_m_min: float = 100.0
    ppm_per_m_min: float = 0.5
    urad_per_m_min: float = 0.0

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """A speed term with an onset."""
        slower = WithSpeed(-self.ppm_per_m_min, 0.0, self.onset_m_min)
        effects = [Drive("drum_ppm", self.station, slower)]
        if self.urad_per_m_min:
            turned = WithSpeed(self.urad_per_m_min, 0.0, self.onset_m_min)
            effects.append(Drive("roller_urad", self.station, turned))
        return effects

    def pattern(self, machine: Machine) -> Pattern:
        """One drum makes a stair."""
        return "stair" if self.station else "fan"


@dataclass(frozen=True)
class RollerRunOut(Fault):
    """An undriven roller that is not round, in the span before a station.

    size_mm   amplitude by which the web's path gets longer; drums that grip damp it.
    side_mm   amplitude sideways of the station's own drum, when it is cocked.
    """

    name: ClassVar[str] = "roller-run-out"
    usual: ClassVar[Pattern] = "one"
    sizes: ClassVar[tuple[str, ...]] = ("size_mm", "side_mm")
    station: int
    size_mm: float = 0.1
    side_mm: float = 0.0
    wavelength_mm: float = 300.0
    phase_deg: float = 0.0

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """A wave in metres."""
        length, phase = self.wavelength_mm / 1000.0, math.radians(self.phase_deg)
        wave = WaveM(UM_PER_MM * self.size_mm, length, phase)
        effects = [Drive("path_um", self.station, wave)]
        if self.side_mm:
            aside = WaveM(UM_PER_MM * self.side_mm, length, phase)
            effects.append(Drive("shift_um", self.station, aside))
        return effects

    def pattern(self, machine: Machine) -> Pattern:
        """Drums that grip keep a short wave to its span."""
        return _metered(machine, "one", "stair")
