"""Faults of heat and dose: lamps, chill drums, film that shrinks, paper that dries."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from regscan.simulator.press.effects import Drive, Effect
from regscan.simulator.press.faults.fault import SECONDS_PER_MINUTE, UM_PER_MM, Fault, Pattern
from regscan.simulator.press.heat import Dose, Dwell, Warming
from regscan.simulator.press.machine import Machine

STEEL_PPM_K = 11.5  # thermal expansion of steel [M]


@dataclass(frozen=True)
class LampWarmUp(Fault):
    """A lamp or dryer in the span before a station, that warms up: late from there on.

    size_mm      alpha * dT * length of the hot zone once warm, at at_m_min.
    tau_min      2-5 min mercury lamp, 10-40 min frames and dryers [M].
    fast_share   part that is there at once; dwell   1: constant power, 0: follows speed.
    skew_share, width_share   of size_mm: drive side hotter than operator side, and how much
                 wider the web stays at the stations that follow.
    """

    name: ClassVar[str] = "lamp-warm-up"
    usual: ClassVar[Pattern] = "stair"
    sizes: ClassVar[tuple[str, ...]] = ("size_mm",)
    station: int
    size_mm: float = 0.1
    tau_min: float = 5.0
    fast_share: float = 0.0
    dwell: float = 0.0
    at_m_min: float = 150.0
    skew_share: float = 0.0
    width_share: float = 0.0

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """A hot zone; where asked for, uneven across the web, and a wider web after it."""
        effects = [Drive("hot_um", self.station, self._dose(UM_PER_MM * self.size_mm))]
        if self.skew_share:
            uneven = self._dose(UM_PER_MM * self.size_mm * self.skew_share)
            effects.append(Drive("hot_um", self.station, uneven, tilt=True))
        if self.width_share:
            wider = UM_PER_MM * self.size_mm * self.width_share / (machine.spacing_mm / 1000.0)
            effects.append(Drive("width_ppm", self.station, self._dose(wider)))
        return effects

    def _dose(self, size: float) -> Dose:
        tau = SECONDS_PER_MINUTE * self.tau_min
        return Dose(size, self.at_m_min, tau, self.fast_share, self.dwell)


@dataclass(frozen=True)
class ChillDrum(Fault):
    """Drums that warm up (station 0: all of them): steel 5 K is 58 um per metre of span [M].

    tau_min   10-40 min [M].
    """

    name: ClassVar[str] = "chill-drum"
    usual: ClassVar[Pattern] = "stair"
    sizes: ClassVar[tuple[str, ...]] = ("rise_k",)
    anywhere: ClassVar[bool] = True
    station: int = 0
    rise_k: float = 5.0
    tau_min: float = 15.0

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """A drum that grows. Nothing happens where the drums do not meter the web."""
        growth = Warming(STEEL_PPM_K * self.rise_k, SECONDS_PER_MINUTE * self.tau_min)
        return [Drive("drum_ppm", self.station, growth)]

    def pattern(self, machine: Machine) -> Pattern:
        """All drums make a fan."""
        return "stair" if self.station else "fan"


@dataclass(frozen=True)
class FilmShrink(Fault):
    """Thin film shrinks for good under the lamp before a station: late from there on.

    size_ppm      at at_m_min; dwell   1: goes with the dose of a lamp of constant power.
    share         how far down the span the lamp stands.
    cross_ratio   shrinkage across the web, of that along it (PET and BOPP: less across).
    """

    name: ClassVar[str] = "film-shrink"
    usual: ClassVar[Pattern] = "stair"
    sizes: ClassVar[tuple[str, ...]] = ("size_ppm",)
    station: int
    size_ppm: float = 300.0
    share: float = 0.3
    cross_ratio: float = 0.5
    dwell: float = 1.0
    at_m_min: float = 150.0

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """Lateness, more tension after it, and marks printed before it drawn inward."""
        along = Dwell(self.size_ppm, self.at_m_min, self.dwell)
        across = Dwell(-self.cross_ratio * self.size_ppm, self.at_m_min, self.dwell)
        return [
            Drive("shrink_ppm", self.station, along, self.share),
            Drive("width_ppm", self.station, across),
        ]


@dataclass(frozen=True)
class Moisture(Fault):
    """Paper dries in one span, or (station 0) in all: 2 to 3 times as much across as along."""

    name: ClassVar[str] = "moisture"
    usual: ClassVar[Pattern] = "stair"
    sizes: ClassVar[tuple[str, ...]] = ("size_ppm",)
    anywhere: ClassVar[bool] = True
    station: int = 0
    size_ppm: float = 120.0
    cross_ratio: float = 2.5
    tau_min: float = 20.0
    share: float = 0.5

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """Slow shrinkage, mostly in width."""
        tau = SECONDS_PER_MINUTE * self.tau_min
        across = Warming(-self.cross_ratio * self.size_ppm, tau)
        return [
            Drive("shrink_ppm", self.station, Warming(self.size_ppm, tau), self.share),
            Drive("width_ppm", self.station, across),
        ]

    def pattern(self, machine: Machine) -> Pattern:
        """Drying in every span makes a fan."""
        return "stair" if self.station else "fan"
