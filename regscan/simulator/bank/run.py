"""One run of the bank: from its seed to the table, the log, the job and the truth."""

from collections.abc import Sequence

import numpy as np

from regscan.simulator.bank.draws.situation import Situation
from regscan.simulator.bank.inject import Part, Scene, inject
from regscan.simulator.bank.jobs import invented_job
from regscan.simulator.bank.need import NEEDS
from regscan.simulator.bank.plan import Plan, plan_of
from regscan.simulator.bank.record import LATERAL_SHARE, Recorder, clock_of, kept_frames, states
from regscan.simulator.bank.stage import ROUND, stage_of
from regscan.simulator.bank.strength import largest_um
from regscan.simulator.bank.truth import BankRun, BankTruth, FaultTruth
from regscan.simulator.press.machine import machine_of
from regscan.simulator.press.noise import LEVELS
from regscan.simulator.press.rows import rows_of
from regscan.simulator.press.true_terms import true_terms

SETUP_SD_UM = 15.0

Both = tuple[np.ndarray, np.ndarray]


def bank_run(seed: int, plan: Plan | None = None) -> BankRun:
    """The run of that seed, the same every time.

    plan   instead of the seed's own, for example plan_of(seed, ("backlash",)).
    """
    plan = plan or plan_of(seed)
    chance = [np.random.default_rng([seed, number]) for number in range(2, 8)]
    job = invented_job(plan.stations, plan.edges, chance[0])
    machine = machine_of(job, plan.metering)
    stage = stage_of(plan, machine, [NEEDS[name] for name in plan.faults], chance[1])
    scene = Scene(plan, machine, stage, LEVELS[plan.level])
    parts = inject(scene, Situation(chance[2], job, machine, stage, plan.edges))
    setup = SETUP_SD_UM * chance[3].standard_normal((2, plan.stations))
    setup -= setup[:, [machine.reference]]
    clock = clock_of(stage, plan.limit, chance[4])
    kept = kept_frames(stage.frames.web_m.size, plan.limit, chance[4])
    recorder = Recorder(job, machine, stage, clock, scene.noise, kept)
    effects = [effect for part in parts for effect in part.fault.effects(machine)]
    true = [_sum(parts, edge, setup, kept.size) for edge in scene.edges]
    sights = [
        recorder.sight(edge, both, states(machine, stage, effects, chance[5]), chance[5])
        for edge, both in zip(scene.edges, true, strict=True)
    ]
    truth = _truth(scene, parts, recorder, setup, true)
    return BankRun(job, rows_of(sights), clock.log, truth)


def _truth(
    scene: Scene, parts: Sequence[Part], recorder: Recorder, setup: np.ndarray, true: list[Both]
) -> BankTruth:
    machine, clock = scene.machine, recorder.clock
    pairs = (setup / 1000.0).T.tolist()
    return BankTruth(
        plan=scene.plan,
        machine=machine,
        profile=scene.stage.profile,
        faults=tuple(_fault_truth(scene, part, recorder) for part in parts),
        setup_mm={number: (along, across) for number, (along, across) in enumerate(pairs, 1)},
        noise=scene.noise,
        lateral_share=LATERAL_SHARE,
        marks_round_m=tuple(share * machine.repeat_m for share in ROUND[scene.plan.marks]),
        clock_shift_s=clock.flaws.shift_s,
        log_gaps_s=clock.flaws.gaps,
        web_from=clock.web_from,
        circumferential_mm=recorder.along_rows([both[0] for both in true]),
        lateral_mm=recorder.along_rows([both[1] for both in true]),
    )


def _sum(parts: Sequence[Part], edge: str, setup: np.ndarray, frames: int) -> Both:
    """(circumferential, lateral) um of all faults and the setting, stations x frames."""
    both = [np.repeat(setup[axis][:, None], frames, axis=1) for axis in (0, 1)]
    for part in parts:
        both = [sum_ + own for sum_, own in zip(both, part.register.at_edge(edge), strict=True)]
    return both[0], both[1]


def _fault_truth(scene: Scene, part: Part, recorder: Recorder) -> FaultTruth:
    machine, effects = scene.machine, part.fault.effects(scene.machine)
    seen = [part.register.at_edge(edge) for edge in scene.edges]
    return FaultTruth(
        fault=part.fault,
        stations=part.fault.named,
        pattern=part.fault.pattern(machine),
        terms=tuple(true_terms(machine, effects, scene.stage.frames.camera)),
        clarity=part.clarity(scene),
        largest_mm=largest_um(part.register, scene.edges) / 1000.0,
        circumferential_mm=recorder.along_rows([both[0] for both in seen]),
        lateral_mm=recorder.along_rows([both[1] for both in seen]),
    )
