"""One run of the bank analysed, and what of it was right."""

import time
from dataclasses import dataclass

from bench.banked.terms import Figure, figures
from regscan.drift.cause import Cause
from regscan.drift.why import explain_run
from regscan.simulator.bank import BankRun, FaultTruth, bank_run

SHOWN = 5.0
"""Clarity from which a run can show a fault at all (25 is what the bank aims at)."""


@dataclass(frozen=True, slots=True)
class Named:
    """A cause as it was named, without its words."""

    name: str
    runner_up: str
    station: int | None
    stations: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Injected:
    """A fault that was put in; stations without those that mean all."""

    name: str
    stations: tuple[int, ...]
    shown: bool


@dataclass(frozen=True, slots=True)
class Score:
    """One run: what was in it, what was said, sizes, seconds of one processor."""

    seed: int
    kind: str
    level: str
    limit: str
    stations: int
    frames: int
    faults: tuple[Injected, ...]
    causes: tuple[Named, ...]
    figures: tuple[Figure, ...]
    seconds: float

    @property
    def first(self) -> bool:
        """The right cause is the first one named."""
        return bool(self.causes) and self.causes[0].name == self.faults[0].name

    @property
    def second(self) -> bool:
        """The right cause is the first one or its runner-up."""
        top = self.causes[:1]
        return any(self.faults[0].name in (one.name, one.runner_up) for one in top)

    @property
    def at_station(self) -> bool:
        """The first cause is named by the right station."""
        return bool(self.causes) and found_at(self.faults[0], self.causes[:1])

    @property
    def both(self) -> bool:
        """Every fault is found at its station."""
        return all(found_at(fault, self.causes) for fault in self.faults)


def found_at(fault: Injected, causes: tuple[Named, ...]) -> bool:
    """Whether some cause is named by the fault's station; by its name where it has none."""
    if not fault.stations:
        return any(one.name == fault.name for one in causes)
    if len(fault.stations) > 1:
        return any(set(one.stations) == set(fault.stations) for one in causes)
    return any(one.station == fault.stations[0] for one in causes)


def score(seed: int) -> Score:
    """Analyse the run of that seed."""
    return score_of(bank_run(seed))


def score_of(run: BankRun) -> Score:
    """Analyse a run."""
    began = time.process_time()
    behaviours, causes = explain_run(run.rows, run.job, run.speed_log)
    seconds = time.process_time() - began
    plan = run.truth.plan
    return Score(
        seed=plan.seed,
        kind=plan.kind,
        level=plan.level,
        limit=plan.limit,
        stations=plan.stations,
        frames=plan.frames,
        faults=tuple(_injected(fault) for fault in run.truth.faults),
        causes=tuple(_named(cause) for cause in causes),
        figures=tuple(figures(run, behaviours)),
        seconds=seconds,
    )


def _injected(fault: FaultTruth) -> Injected:
    stations = tuple(sorted(set(fault.stations) - {0}))
    return Injected(fault.fault.name, stations, fault.clarity >= SHOWN)


def _named(cause: Cause) -> Named:
    second = cause.runner_up.name if cause.runner_up else ""
    return Named(cause.name, second, cause.station, cause.stations)
