"""Faults put into a run: drawn, as strong as it takes to see them, each with its own part."""

from dataclasses import dataclass, replace

from regscan.simulator.bank.draws import DRAWS
from regscan.simulator.bank.draws.situation import Situation
from regscan.simulator.bank.jobs import EDGES
from regscan.simulator.bank.plan import Plan
from regscan.simulator.bank.stage import Stage
from regscan.simulator.bank.strength import clarity, factor_for, largest_um
from regscan.simulator.press.faults.fault import Fault
from regscan.simulator.press.machine import Machine
from regscan.simulator.press.noise import Noise
from regscan.simulator.press.register import Register, register_of


@dataclass(frozen=True)
class Scene:
    """One run before anything happens to it."""

    plan: Plan
    machine: Machine
    stage: Stage
    noise: Noise

    @property
    def edges(self) -> tuple[str, ...]:
        """The mark sets across the web."""
        return EDGES if self.plan.edges else ("",)

    @property
    def pitch_m(self) -> float:
        """Mean web between two frames."""
        return self.stage.every_m / self.plan.marks

    def register(self, fault: Fault) -> Register:
        """What that fault alone does."""
        effects = fault.effects(self.machine)
        return register_of(self.machine, self.stage.profile, effects, self.stage.frames)


@dataclass(frozen=True)
class Part:
    """A fault and its own part of the offsets."""

    fault: Fault
    register: Register

    def clarity(self, scene: Scene) -> float:
        """Signal over noise, see strength.clarity."""
        return clarity(self.register, scene.edges, scene.noise, scene.pitch_m)


def inject(scene: Scene, situation: Situation) -> list[Part]:
    """The plan's faults, at different stations, as strong as it takes to see them."""
    parts: list[Part] = []
    for name in scene.plan.faults:
        fault = DRAWS[name](situation)
        taken = {station for part in parts for station in part.fault.named}
        for _ in range(50):
            if not taken & set(fault.named):
                break
            fault = DRAWS[name](situation)
        parts.append(_strong_enough(scene, fault))
    return parts


def _strong_enough(scene: Scene, fault: Fault) -> Part:
    part = scene.register(fault)
    clear = clarity(part, scene.edges, scene.noise, scene.pitch_m)
    factor = factor_for(clear, largest_um(part, scene.edges))
    if factor == 1.0:
        return Part(fault, part)
    fault = fault.scaled(factor)
    # Linear in its sizes, so there is no need to solve the web again.
    return Part(fault, _times(part, factor))


def _times(part: Register, factor: float) -> Register:
    return replace(
        part,
        circumferential_um=factor * part.circumferential_um,
        lateral_um=factor * part.lateral_um,
        skew_um=factor * part.skew_um,
        width_um=factor * part.width_um,
    )
