"""Fault: one named cause with its parameters; what it does is a handful of effects."""

from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import ClassVar, Literal, Self

from regscan.simulator.press.effects import Effect
from regscan.simulator.press.machine import Machine

Pattern = Literal["one", "stair", "fan", "cascade", "smooth", "several", "common"]

UM_PER_MM = 1000.0
SECONDS_PER_MINUTE = 60.0


@dataclass(frozen=True)
class Fault(ABC):
    """One named cause. Fields are its parameters, units in their names.

    name    how it is called on the command line and in the truth.
    usual   the pattern over stations it shows when every drum grips.
    sizes   the parameters its effect is proportional to, all together.
    anywhere   True where station 0 may stand for all stations.
    """

    name: ClassVar[str]
    usual: ClassVar[Pattern]
    sizes: ClassVar[tuple[str, ...]]
    anywhere: ClassVar[bool] = False

    @abstractmethod
    def effects(self, machine: Machine) -> Sequence[Effect]:
        """What it does to that press."""

    def pattern(self, machine: Machine) -> Pattern:
        """The pattern over stations it shows on that press."""
        return self.usual

    def scaled(self, factor: float) -> Self:
        """The same fault, so many times as strong."""
        return replace(self, **{name: factor * getattr(self, name) for name in self.sizes})

    @property
    def named(self) -> tuple[int, ...]:
        """The stations it names; 0 stands for all of them."""
        if hasattr(self, "stations"):
            return tuple(self.stations)
        return (self.station,) if hasattr(self, "station") else ()

    def check(self, machine: Machine) -> None:
        """Raises ValueError when it names a station that the press has not."""
        for station in self.named:
            if not (0 if self.anywhere else 1) <= station <= machine.stations:
                raise ValueError(
                    f"{self.name}: station {station} is not among the {machine.stations} there are"
                )
