"""Faults of the reel and the guide: hunting, splices, baggy edges, another roll."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from regscan.simulator.press.effects import Drive, Effect, Loss, PlateTerm
from regscan.simulator.press.faults.fault import UM_PER_MM, Fault, Pattern
from regscan.simulator.press.machine import Machine
from regscan.simulator.press.periodic import RollTurn, WaveS
from regscan.simulator.press.signals import Blip, StepAt


@dataclass(frozen=True)
class GuideHunting(Fault):
    """The web guide swings the web to and fro: its period is constant in seconds.

    size_mm   amplitude of the web at station 1; little of it gets into register.
    """

    name: ClassVar[str] = "guide-hunting"
    usual: ClassVar[Pattern] = "cascade"
    sizes: ClassVar[tuple[str, ...]] = ("size_mm",)
    size_mm: float = 0.3
    period_s: float = 4.0
    phase_deg: float = 0.0

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """A swing that every station sees a span later."""
        swing = WaveS(UM_PER_MM * self.size_mm, self.period_s, math.radians(self.phase_deg))
        return [Drive("side_um", 0, swing)]


@dataclass(frozen=True)
class Splice(Fault):
    """A splice goes through: each station is hit when it comes by; marks may be lost.

    at_m        when it passed station 1.
    size_mm     largest hit of a station along the web; side_mm   the same across.
    length_m    over which a hit dies away; all is over within 5-10 m [M].
    size_ppm    jolt of the incoming strain.
    lost        share of the marks missing on a metre about it.
    """

    name: ClassVar[str] = "splice"
    usual: ClassVar[Pattern] = "cascade"
    sizes: ClassVar[tuple[str, ...]] = ("size_mm", "side_mm", "size_ppm")
    at_m: float = 100.0
    size_mm: float = 0.2
    side_mm: float = 0.1
    length_m: float = 2.0
    size_ppm: float = 200.0
    lost: float = 0.7

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """Hits of unequal size and sign, a jolt, and gaps."""
        jolt = Blip(self.size_ppm, self.at_m, self.length_m)
        effects: list[Effect] = [Drive("incoming_ppm", 0, jolt)]
        effects.append(Loss(self.at_m, 1.0, self.lost))
        for index, place in enumerate(machine.place_m.tolist()):
            # No two stations are hit alike; any uneven row of numbers would do.
            share = math.cos(2.4 * index)
            for channel, size in (("circumferential", self.size_mm), ("lateral", self.side_mm)):
                hit = Blip(UM_PER_MM * size * share, self.at_m + place, self.length_m)
                effects.append(PlateTerm(index + 1, channel, hit))  # type: ignore[arg-type]
        return effects


@dataclass(frozen=True)
class BaggyEdge(Fault):
    """One edge of the roll is slack: strain differs over the web, by the turn of the roll.

    size_ppm       drive side minus operator side; side_mm   sideways swing of the web.
    roll_m         diameter of the roll at the start; thickness_um   of the web.
    """

    name: ClassVar[str] = "baggy-edge"
    usual: ClassVar[Pattern] = "cascade"
    sizes: ClassVar[tuple[str, ...]] = ("size_ppm", "side_mm")
    size_ppm: float = 300.0
    side_mm: float = 0.1
    roll_m: float = 0.8
    thickness_um: float = 150.0

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """Strain, its difference over the web, and a swing, all by the turn of the roll."""

        def turn(size: float) -> RollTurn:
            return RollTurn(size, self.roll_m, self.thickness_um)

        return [
            Drive("incoming_ppm", 0, turn(self.size_ppm / 2.0)),
            Drive("incoming_ppm", 0, turn(self.size_ppm), tilt=True),
            Drive("side_um", 0, turn(UM_PER_MM * self.side_mm)),
        ]


@dataclass(frozen=True)
class RollChange(Fault):
    """Another roll from at_m on: other strain, also over the web, and another place of the web."""

    name: ClassVar[str] = "roll-change"
    usual: ClassVar[Pattern] = "cascade"
    sizes: ClassVar[tuple[str, ...]] = ("size_ppm", "tilt_ppm", "side_mm")
    at_m: float = 100.0
    size_ppm: float = 150.0
    tilt_ppm: float = 80.0
    side_mm: float = 0.2
    lost: float = 0.7

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """Steps of the web that come with a splice."""
        return [
            Drive("incoming_ppm", 0, StepAt(self.size_ppm, self.at_m)),
            Drive("incoming_ppm", 0, StepAt(self.tilt_ppm, self.at_m), tilt=True),
            Drive("side_um", 0, StepAt(UM_PER_MM * self.side_mm, self.at_m)),
            Loss(self.at_m, 1.0, self.lost),
        ]

    def pattern(self, machine: Machine) -> Pattern:
        """A fan where infeed or outfeed meter."""
        return "cascade" if machine.metering.gripped >= 0.5 else "fan"
