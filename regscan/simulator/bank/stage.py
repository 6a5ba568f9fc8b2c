"""The stage of a run: its speeds, and the frames that are taken of it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regscan.simulator.bank.need import Need
from regscan.simulator.bank.plan import Plan
from regscan.simulator.bank.profiles import Course, course_profile, random_course, steady_course
from regscan.simulator.press.machine import Machine
from regscan.simulator.press.register import Frames
from regscan.simulator.speed import SpeedProfile

USUAL_M_MIN = 110.0
# Places of the mark sets round the repeat: uneven, so that no wave hides between them.
ROUND = {
    1: (0.0,),
    2: (0.0, 0.4),
    3: (0.0, 0.3, 0.65),
    4: (0.0, 0.23, 0.51, 0.77),
    5: (0.0, 0.17, 0.41, 0.58, 0.83),
}
NEAR_REPEATS = 3
OF_RAMPS = ("one ramp rate", "no holds", "log clock shifted")  # shown by changing speeds only


@dataclass(frozen=True)
class Stage:
    """Speeds and frames.

    frames      of one camera, evenly triggered: every so many repeats.
    length_m    web from the first frame to the last; every_m   web between triggers.
    """

    profile: SpeedProfile
    frames: Frames
    length_m: float
    every_m: float


def stage_of(
    plan: Plan, machine: Machine, needs: Sequence[Need], rng: np.random.Generator
) -> Stage:
    """Speeds that suit the faults, and as many frames as planned over all of the run."""
    triggers = max(plan.frames // plan.marks, 2)
    every = _every_repeats(plan, machine, needs, triggers, rng)
    every_m = every * machine.repeat_m
    length = triggers * every_m
    profile = course_profile(_course(plan, needs, rng), length)
    web = np.arange(triggers)[:, None] * every_m + np.array(ROUND[plan.marks]) * machine.repeat_m
    place = np.broadcast_to(np.array(ROUND[plan.marks]) * machine.repeat_m, web.shape)
    camera = machine.press.cameras[0].name if len(machine.press.cameras) > 1 else ""
    return Stage(profile, Frames(web.ravel(), place.ravel().copy(), camera), length, every_m)


def _every_repeats(
    plan: Plan,
    machine: Machine,
    needs: Sequence[Need],
    triggers: int,
    rng: np.random.Generator,
) -> int:
    """Every so many repeats a frame, so that the run takes as long as it should."""
    least = max((need.long_min for need in needs), default=0.0)
    minutes = max(float(np.exp(rng.uniform(np.log(4.0), np.log(15.0)))), least)
    repeats = minutes * USUAL_M_MIN / (triggers * machine.repeat_m)
    if any(need.near for need in needs) and not least:
        repeats = min(repeats, NEAR_REPEATS)
    return max(round(repeats), 1)


def _course(plan: Plan, needs: Sequence[Need], rng: np.random.Generator) -> Course:
    ramps = any(need.ramps for need in needs) or plan.limit in OF_RAMPS
    if plan.limit == "one speed" or (not ramps and rng.random() < 0.1):
        return steady_course(rng)
    two = any(need.two_rates for need in needs) or rng.random() < 0.7
    return random_course(
        rng, two_rates=two and plan.limit != "one ramp rate", holds=plan.limit != "no holds"
    )
