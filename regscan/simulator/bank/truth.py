"""What really happened in a run of the bank."""

from dataclasses import dataclass

import numpy as np

from regscan.job.job import Job
from regscan.recording.speedlog import SpeedLog
from regscan.simulator.bank.plan import Plan
from regscan.simulator.press.faults.fault import Fault, Pattern
from regscan.simulator.press.machine import Machine
from regscan.simulator.press.noise import Noise
from regscan.simulator.press.true_terms import TrueTerm
from regscan.simulator.speed import SpeedProfile


@dataclass(frozen=True, eq=False)
class FaultTruth:
    """One fault as it was injected, and what it did.

    fault        the record with its parameters; `fault.name` is the cause.
    stations     those it names; 0 stands for all of them, empty for the web as a whole.
    pattern      over the stations: one, stair, fan, cascade, smooth, several, common.
    terms        what it amounts to at each station against the reference.
    clarity      signal over noise of the clearest series, all frames together; at 25 the best
                 of fits knows its size to 4 %; near 0 where this run cannot show it.
    largest_mm   the furthest any mark goes by it.
    circumferential_mm, lateral_mm   its own part of every row of the table.
    """

    fault: Fault
    stations: tuple[int, ...]
    pattern: Pattern
    terms: tuple[TrueTerm, ...]
    clarity: float
    largest_mm: float
    circumferential_mm: np.ndarray
    lateral_mm: np.ndarray


@dataclass(frozen=True, eq=False)
class BankTruth:
    """The truth of one run; arrays run along the rows of its table, without any noise.

    plan          what the seed decided: kind, noise level, limit ...
    setup_mm      (circumferential, lateral) lasting offset of each station's setting, by its
                  number; part of the arrays, of no fault.
    noise         of one mark along the web; across it has lateral_share of it.
    marks_round_m places of the mark sets round the repeat.
    clock_shift_s what the log's clock shows more than the frames'.
    log_gaps_s    (start, end) on the log's clock.
    web_from      "encoder" (exact), "log" (integrated) or "" (no metres in the table).
    """

    plan: Plan
    machine: Machine
    profile: SpeedProfile
    faults: tuple[FaultTruth, ...]
    setup_mm: dict[int, tuple[float, float]]
    noise: Noise
    lateral_share: float
    marks_round_m: tuple[float, ...]
    clock_shift_s: float
    log_gaps_s: tuple[tuple[float, float], ...]
    web_from: str
    circumferential_mm: np.ndarray
    lateral_mm: np.ndarray


@dataclass(frozen=True, eq=False)
class BankRun:
    """A run as an analysis gets it, and its truth.

    rows        structured array in the columns of offsets.csv.
    speed_log   None where the run has none.
    """

    job: Job
    rows: np.ndarray
    speed_log: SpeedLog | None
    truth: BankTruth
