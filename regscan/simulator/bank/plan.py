"""The plan of a run: what its seed decides before anything is drawn at random."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from regscan.simulator.bank.need import NEEDS
from regscan.simulator.press.machine import GRIPPED, INFEED, OUTFEED, Metering
from regscan.simulator.press.noise import LEVELS

Kind = Literal["none", "single", "pair"]
Limit = Literal[
    "",
    "one ramp rate",
    "no holds",
    "one speed",
    "half the frames missing",
    "web metres from the log",
    "log clock shifted",
    "gap in the log",
    "no speed log",
]
# What cannot be told apart with such a run is not the fault's doing.
LIMITS: tuple[Limit, ...] = (
    "one ramp rate",
    "no holds",
    "one speed",
    "half the frames missing",
    "web metres from the log",
    "log clock shifted",
    "gap in the log",
    "no speed log",
)
LIMITED = 0.15  # share of runs that have one
FEWEST, MOST = 300, 3000
# Faults of one station, of which pairs are made so that there are two stations to find.
OF_ONE_STATION = (
    "backlash",
    "gear-run-out",
    "plate-run-out",
    "servo-delay",
    "lamp-warm-up",
    "film-shrink",
    "impression",
    "plate-slip",
    "plate-creep",
    "plate-mounting",
    "cocked-cylinder",
    "side-lay-drift",
)


@dataclass(frozen=True, slots=True)
class Plan:
    """One run of the bank.

    faults     names from the table of faults; none, one or two.
    level      noise: low, middle or high.
    stations, frames   how many; frames count every mark set round the repeat.
    metering   which nips meter the web.
    edges      marks at both web edges; marks   places round the repeat.
    limit      what is wanting in this run, "" for nothing.
    """

    seed: int
    faults: tuple[str, ...]
    level: str
    stations: int
    frames: int
    metering: Metering = GRIPPED
    edges: bool = False
    marks: int = 1
    limit: Limit = ""

    @property
    def kind(self) -> Kind:
        """none, single or pair."""
        return ("none", "single", "pair")[len(self.faults)]


def plan_of(seed: int, faults: Sequence[str] | None = None) -> Plan:
    """The plan for a seed: six of ten seeds hold one fault (all faults by turns), two a pair,
    two none; the three noise levels by turns; the rest at random.

    faults   instead of those of the seed; the run then has what they need to show.
    """
    rng = np.random.default_rng([seed, 1])
    faults = tuple(_faults(seed, rng) if faults is None else faults)
    needs = [NEEDS[name] for name in faults]
    metering = GRIPPED if any(need.grips for need in needs) else _metering(rng)
    marks = 4 if rng.random() < 0.08 else 1
    edges = bool(rng.random() < 0.25)
    limit: Limit = ""
    if rng.random() < LIMITED:
        limit = LIMITS[int(rng.integers(len(LIMITS)))]
    return Plan(
        seed=seed,
        faults=faults,
        level=tuple(LEVELS)[seed % 3],
        stations=int(rng.integers(6, 11)),
        frames=round(float(np.exp(rng.uniform(np.log(FEWEST), np.log(MOST))))),
        metering=metering,
        edges=edges or any(need.edges for need in needs),
        marks=max([marks, *(need.marks for need in needs)]),
        limit=limit,
    )


def _faults(seed: int, rng: np.random.Generator) -> tuple[str, ...]:
    names = tuple(NEEDS)
    place, decade = seed % 10, seed // 10
    if place < 6:
        return (names[(6 * decade + place) % len(names)],)
    return _pair(rng) if place < 8 else ()


def _pair(rng: np.random.Generator) -> tuple[str, ...]:
    """Mostly two faults of one station each, else one of them and any other."""
    first = str(rng.choice(OF_ONE_STATION))
    others = OF_ONE_STATION if rng.random() < 0.75 else tuple(NEEDS)
    return first, str(rng.choice([name for name in others if name != first]))


def _metering(rng: np.random.Generator) -> Metering:
    """Mostly drums that grip; real presses lie between the layouts."""
    draw = rng.random()
    if draw < 0.65:
        return GRIPPED
    if draw < 0.75:
        return INFEED
    if draw < 0.85:
        return OUTFEED
    infeed = round(float(rng.uniform(0.1, 0.4)), 2)
    return Metering(1.0 - infeed, 0.0, infeed)
