"""The plan with the fewest moves, and the plain one beside it: all to the reference."""

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from regscan.drift.drift import Drift
from regscan.drift.words import lies
from regscan.job.job import AXES, Axis, Job, Station
from regscan.units import cylinder_deg
from regscan.verdict.actuator import Actuator, Key, actuator_of
from regscan.verdict.aims import Aim, find_aims
from regscan.verdict.fewest import Choice, as_cost, best_choices, beyond, choice_of
from regscan.verdict.plan import Move, Outcome, Plan, PlanName
from regscan.verdict.waits import wait_m, wait_s
from regscan.verdict.words import FINISH, approach, spoken

SIGMAS_95 = 1.96


@dataclass(frozen=True)
class Known:
    """What a plan rests on besides the levels.

    learned   actuators as logged moves showed them, before what the job says.
    waiting   (ink, axis) of colours that have not settled, which are not moved now.
    """

    learned: Mapping[Key, Actuator] = field(default_factory=dict)
    waiting: Collection[tuple[str, Axis]] = ()


def make_plans(drift: Drift, job: Job, known: Known | None = None) -> tuple[Plan, Plan]:
    """(fewest moves, all to the reference), for the settled offsets of a run."""
    known = known or Known()
    every = find_aims(drift, job, known.learned, known.waiting)
    aims = [[aim for aim in every if aim.axis == axis] for axis in AXES]
    reference = job.station_of(job.reference)
    actuators = [actuator_of(reference, axis, known.learned) for axis in AXES]
    # What waits would follow the reference unseen, so the reference waits with it.
    stuck = [reference.locked or any(w[1] == axis for w in known.waiting) for axis in AXES]
    movable = [None if no else one for one, no in zip(actuators, stuck, strict=True)]
    fewest = best_choices(aims, movable, reference.number)
    plain = tuple(
        choice_of(of_axis, [aim.plain_steps() for aim in of_axis], (reference.number, 0, 0.0))
        for of_axis in aims
    )
    press = _Press(job, aims, actuators, _speed(drift))
    return press.plan("fewest moves", fewest), press.plan("all to the reference", plain)


def _speed(drift: Drift) -> float | None:
    """The speed of the latest settled hold, for turning metres into seconds."""
    settled = [track.settled for track in drift.tracks if track.settled]
    return max(settled, key=lambda level: level.segment).speed_m_min if settled else None


@dataclass(frozen=True)
class _Press:
    """Everything that both plans of one run share; aims and reference by axis."""

    job: Job
    aims: list[list[Aim]]
    reference: list[Actuator]
    speed_m_min: float | None

    def plan(self, name: PlanName, choices: Sequence[Choice]) -> Plan:
        moves = self.moves(choices)
        metres = max((move.wait_m for move in moves), default=0.0)
        outcomes = [
            self.outcome(aim, steps, axis, choice.reference_steps)
            for axis, choice in enumerate(choices)
            for aim, steps in zip(self.aims[axis], choice.steps, strict=True)
        ]
        return Plan(
            name=name,
            moves=moves,
            outcomes=tuple(sorted(outcomes, key=lambda o: (o.station, o.axis))),
            cost=as_cost(choices),
            wait_m=metres,
            wait_s=wait_s(metres, self.speed_m_min),
            cautions=tuple(self.cautions(choices)),
        )

    def moves(self, choices: Sequence[Choice]) -> tuple[Move, ...]:
        """The reference first, since it moves all others; then from the unwind on, so
        that what a plate does to the web is in the web before the next is judged."""
        reference = self.job.station_of(self.job.reference)
        wanted: list[tuple[int, Station, Axis, int, Actuator]] = []
        for axis, choice, own in zip(AXES, choices, self.reference, strict=True):
            wanted.append((0, reference, axis, choice.reference_steps, own))
            for aim, steps in zip(self.aims[AXES.index(axis)], choice.steps, strict=True):
                station = self.job.press.stations[aim.station - 1]
                wanted.append((station.number, station, axis, steps, aim.actuator))
        made = sorted((w for w in wanted if w[3]), key=lambda w: (w[0], AXES.index(w[2])))
        return tuple(
            self.move(order, station, axis, steps, actuator)
            for order, (_, station, axis, steps, actuator) in enumerate(made, 1)
        )

    def move(
        self, order: int, station: Station, axis: Axis, steps: int, actuator: Actuator
    ) -> Move:
        move = round(steps * actuator.step_mm, 9)
        metres = wait_m(station, self.job)
        along = axis == "circumferential"
        return Move(
            order=order,
            station=station.number,
            ink=station.ink,
            axis=axis,
            move_mm=move,
            steps=steps,
            degrees=cylinder_deg(move, self.job.press.repeat_mm) if along else None,
            words=spoken(axis, move, self.job.direction_words),
            approach=approach(axis, steps, actuator),
            wait_m=metres,
            wait_s=wait_s(metres, self.speed_m_min),
        )

    def outcome(self, aim: Aim, steps: int, axis: int, reference_steps: int) -> Outcome:
        reference = self.reference[axis]
        shift, move = reference_steps * reference.step_mm, steps * aim.actuator.step_mm
        end = aim.worst_after(move - shift)
        sd = math.hypot(aim.sd_mm or 0.0, move * aim.actuator.step_sd, shift * reference.step_sd)
        below, above = _play(aim.actuator, steps, aim.axis)
        other = _play(reference, reference_steps, aim.axis)  # the reference, the other way
        return Outcome(
            station=aim.station,
            ink=aim.ink,
            axis=aim.axis,
            remaining_mm=round(end, 9),
            sd_mm=None if aim.sd_mm is None else sd,
            low_mm=end - SIGMAS_95 * sd - below - other[1],
            high_mm=end + SIGMAS_95 * sd + above + other[0],
            share=abs(end) / aim.tolerance_mm,
            inside=not beyond(end, aim),
        )

    def cautions(self, choices: Sequence[Choice]) -> Iterator[str]:
        for axis, choice in zip(self.aims, choices, strict=True):
            for aim, steps in zip(axis, choice.steps, strict=True):
                yield from _cannot(aim, steps)
        if any(choice.reference_steps for choice in choices):
            measured = {aim.ink for axis in self.aims for aim in axis} | {self.job.reference}
            unseen = [s.ink for s in self.job.press.stations if s.ink not in measured]
            if unseen:
                yield (
                    f"{', '.join(unseen)}: not measured, so look at it after the reference moves"
                )
            yield ("the reference moves: a die or foil that follows it must be looked at again")


def _cannot(aim: Aim, steps: int) -> Iterator[str]:
    """What no move of this plan cures at a station."""
    who = f"{aim.ink} (station {aim.station}), {aim.axis}"
    apart = aim.high_mm - aim.low_mm
    if not aim.curable:
        what = "skew" if aim.axis == "circumferential" else "a change of width"
        yield (
            f"{who}: {apart:.3f} mm between the web edges is {what}, which no register move"
            f" cures; at best {apart / 2:.3f} mm remains at each edge"
        )
    if aim.fixed and not steps and abs(aim.middle_mm) > aim.reach_mm:
        yield f"{who}: locked, so {lies(aim.axis, aim.middle_mm)} is left as it is"


def _play(actuator: Actuator, steps: int, axis: Axis) -> tuple[float, float]:
    """(below, above): how far a move may end short, when it is not known how it was last moved."""
    if not steps or actuator.learned:
        return 0.0, 0.0
    return (actuator.play_mm, 0.0) if FINISH[axis] > 0 else (0.0, actuator.play_mm)
