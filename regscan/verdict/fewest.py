"""The fewest moves: which common shift leaves as few stations as possible to be touched.

All colours are judged against the reference, so moving the reference by c moves all the
others by -c at once. For a given c each station either lies within reach and is left, or
is moved to its own best place, unless that move is smaller than c may miss: it might
then go the wrong way, so it is left for the next round. So only c has to be chosen, in
whole steps of the reference's actuator. The numbers that decide change only at finitely
many c, and all of those are looked at. See docs/how/corrections.md.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from regscan.verdict.actuator import Actuator
from regscan.verdict.aims import Aim
from regscan.verdict.plan import Cost

DIGITS = 9  # decimals of a mm that count; what is smaller is rounding of the machine's numbers


@dataclass(frozen=True, slots=True)
class Choice:
    """Moves of one axis: steps of the reference, and of each aim in the aims' order."""

    reference_steps: int
    steps: tuple[int, ...]
    touched: frozenset[int]
    moves: int
    outside: int
    worst_share: float
    travel_mm: float


def best_choices(
    aims: Sequence[Sequence[Aim]], references: Sequence[Actuator | None], number: int
) -> tuple[Choice, ...]:
    """The best choice of each axis, both axes taken together.

    aims        one sequence per axis.
    references  the reference's actuator on each axis; None where it may not be moved.
    number      the reference's station.

    Least, in this order: colours outside, stations touched on either axis, moves, the
    largest share of a tolerance used, millimetres moved.
    """
    found = [
        _choices(of_axis, reference, number)
        for of_axis, reference in zip(aims, references, strict=True)
    ]
    if len(found) == 1:
        return (min(found[0], key=lambda one: cost_of((one,))),)
    first, second = found
    return min(((a, b) for a in first for b in second), key=cost_of)


def cost_of(choices: Sequence[Choice]) -> tuple[float, ...]:
    """The cost of choices made together, ready to be compared."""
    touched: frozenset[int] = frozenset().union(*(one.touched for one in choices))
    return (
        sum(one.outside for one in choices),
        len(touched),
        sum(one.moves for one in choices),
        round(max(one.worst_share for one in choices), DIGITS),
        round(sum(one.travel_mm for one in choices), DIGITS),
    )


def as_cost(choices: Sequence[Choice]) -> Cost:
    """The same as a record."""
    outside, stations, moves, share, travel = cost_of(choices)
    return Cost(int(outside), int(stations), int(moves), share, travel)


def _choices(aims: Sequence[Aim], reference: Actuator | None, number: int) -> list[Choice]:
    """The best choice for every set of stations that some shift leaves to be touched."""
    best: dict[frozenset[int], Choice] = {}
    for steps in _shifts(aims, reference):
        choice = choose(aims, reference, number, steps)
        known = best.get(choice.touched)
        if known is None or cost_of((choice,)) < cost_of((known,)):
            best[choice.touched] = choice
    return list(best.values())


def _shifts(aims: Sequence[Aim], reference: Actuator | None) -> set[int]:
    """Steps of the reference at which anything that counts can change or be best."""
    if reference is None:
        return {0}
    marks = [edge for aim in aims for edge in aim.stays_within()]
    # Where two colours use equal shares of their tolerances on either side of zero.
    ends = [(aim.low_mm, aim.tolerance_mm) for aim in aims]
    ends += [(aim.high_mm, aim.tolerance_mm) for aim in aims]
    marks += [(y * u + z * t) / (t + u) for y, t in ends for z, u in ends if y <= z]
    # Where a station's own move becomes as large as the shift may miss.
    for aim in aims:
        marks += _where_sure(aim.middle_mm, reference)
    found = {0}
    for mark in marks:
        whole = mark / reference.step_mm
        found |= {math.floor(whole), math.ceil(whole), round(whole)}
    return found


def _where_sure(middle_mm: float, reference: Actuator) -> list[float]:
    """Shifts c at which |c - middle| equals what c may miss, share * |c| + play."""
    share = reference.unsure_mm(1.0) - reference.unsure_mm(1e-12)
    play = reference.unsure_mm(1e-12)
    return [
        (middle_mm + side * play) / (1.0 + slope * share)
        for side in (-1.0, 1.0)
        for slope in (-1.0, 1.0)
        if abs(1.0 + slope * share) > 1e-6
    ]


def choose(
    aims: Sequence[Aim], reference: Actuator | None, number: int, reference_steps: int
) -> Choice:
    """What each station has to do when the reference makes so many steps."""
    shift = reference_steps * reference.step_mm if reference else 0.0
    unsure = reference.unsure_mm(shift) if reference else 0.0
    steps = [_steps(aim, shift, unsure) for aim in aims]
    return choice_of(aims, steps, (number, reference_steps, shift))


def choice_of(
    aims: Sequence[Aim], steps: Sequence[int], reference: tuple[int, int, float]
) -> Choice:
    """How given moves end. reference: its station, its steps, and its shift in mm."""
    number, reference_steps, shift = reference
    moves = [own * aim.actuator.step_mm for own, aim in zip(steps, aims, strict=True)]
    ends = [abs(aim.worst_after(m - shift)) for aim, m in zip(aims, moves, strict=True)]
    touched = {aim.station for aim, own in zip(aims, steps, strict=True) if own}
    pairs = list(zip(ends, aims, strict=True))
    return Choice(
        reference_steps=reference_steps,
        steps=tuple(steps),
        touched=frozenset(touched | ({number} if reference_steps else set())),
        moves=sum(1 for own in steps if own) + bool(reference_steps),
        outside=sum(beyond(end, aim) for end, aim in pairs),
        worst_share=max((end / aim.tolerance_mm for end, aim in pairs), default=0.0),
        travel_mm=abs(shift) + sum(abs(move) for move in moves),
    )


def beyond(end_mm: float, aim: Aim) -> bool:
    """Whether a colour that ends there has not the margin that is wanted."""
    return round(abs(end_mm) - aim.reach_mm, DIGITS) > 0.0


def _steps(aim: Aim, shift_mm: float, unsure_mm: float) -> int:
    low, high = aim.stays_within()
    left = round(low - shift_mm, DIGITS) <= 0.0 <= round(high - shift_mm, DIGITS)
    small = abs(shift_mm - aim.middle_mm) < unsure_mm
    if aim.fixed or left or small:
        return 0
    return aim.actuator.steps_for(shift_mm - aim.middle_mm)
