"""Faults of the camera's timing: what looks like register and is none."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from regscan.simulator.press.effects import Effect, GroupTerm, ViewTerm
from regscan.simulator.press.faults.fault import SECONDS_PER_MINUTE, Fault, Pattern
from regscan.simulator.press.machine import Machine
from regscan.simulator.press.signals import WithSpeed


@dataclass(frozen=True)
class TriggerLatency(Fault):
    """The whole exposure comes late: all marks have moved on together [D].

    100 us are 250 um at 150 m/min. Register is not touched.
    """

    name: ClassVar[str] = "trigger-latency"
    usual: ClassVar[Pattern] = "common"
    sizes: ClassVar[tuple[str, ...]] = ("latency_us",)
    latency_us: float = 100.0

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """The group moves along the web's travel, away from the unwind."""
        return [GroupTerm(WithSpeed(-self.latency_us / SECONDS_PER_MINUTE))]


@dataclass(frozen=True)
class FlashTiming(Fault):
    """Some colours are flashed later than the others, say those seen in one colour channel.

    Looks like a speed term of these colours, but goes with the speed at the frame.
    """

    name: ClassVar[str] = "flash-timing"
    usual: ClassVar[Pattern] = "several"
    sizes: ClassVar[tuple[str, ...]] = ("delay_us",)
    stations: tuple[int, ...]
    delay_us: float = 30.0

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """Their marks have moved on, away from the unwind."""
        moved = WithSpeed(-self.delay_us / SECONDS_PER_MINUTE)
        return [ViewTerm(station, moved) for station in self.stations]


@dataclass(frozen=True)
class RollingShutter(Fault):
    """The sensor reads its rows one after the other along the web.

    us_per_mm   how much later a mark is read for every mm it lies further toward the unwind.
    """

    name: ClassVar[str] = "rolling-shutter"
    usual: ClassVar[Pattern] = "several"
    sizes: ClassVar[tuple[str, ...]] = ("us_per_mm",)
    us_per_mm: float = 20.0

    def effects(self, machine: Machine) -> Sequence[Effect]:
        """Marks move by their distance in the frame."""
        late_us = self.us_per_mm * machine.mark_mm
        return [
            ViewTerm(number, WithSpeed(-late / SECONDS_PER_MINUTE))
            for number, late in enumerate(late_us.tolist(), 1)
        ]
