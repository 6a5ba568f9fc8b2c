"""The moves as tables and sentences for the terminal, and as the JSON of plan.json."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

from rich.table import Table

from regscan.cli.screen import CAUTION
from regscan.cli.tables import plain_table
from regscan.job.job import Job
from regscan.verdict.actuator import Actuator, Key
from regscan.verdict.advice import Advice
from regscan.verdict.effects import Effect
from regscan.verdict.learn import actuator_words
from regscan.verdict.plan import Cost, Move, Outcome, Plan

FORMAT = 1


@dataclass(frozen=True)
class Told:
    """What a log of moves added: what each did, and what was learned of the press."""

    effects: Sequence[Effect] = ()
    learned: Mapping[Key, Actuator] = field(default_factory=dict)


def compared(advice: Advice) -> Table:
    """Both plans with their costs, one line each."""
    table = plain_table("Two plans")
    table.add_column("Plan", no_wrap=True)
    for name in ("Moves", "Stations", "mm in all", "Worst use", "No margin", "Wait m"):
        table.add_column(name, justify="right", no_wrap=True)
    for plan in (advice.fewest, advice.plain):
        cost = plan.cost
        table.add_row(
            plan.name,
            str(cost.moves),
            str(cost.stations),
            f"{cost.travel_mm:.2f}",
            f"{cost.worst_share:.0%}",
            str(cost.outside),
            f"{plan.wait_m:.1f}",
        )
    table.caption = (
        "Worst use: of a tolerance, after the moves. No margin: colours left nearer to their"
        " limit than a quarter of the tolerance, or out."
    )
    return table


def plans_shown(advice: Advice) -> list[Plan]:
    """The plans that ask for a move, each set of moves once."""
    plans = [plan for plan in (advice.fewest, advice.plain) if plan.moves]
    return plans[:1] if len(plans) == 2 and plans[0].moves == plans[1].moves else plans


def plan_table(plan: Plan) -> Table:
    """One line per move, in the order in which to make them."""
    table = plain_table(f"Plan: {plan.name}")
    for name in ("No", "St"):
        table.add_column(name, justify="right")
    table.add_column("Ink", overflow="fold")
    table.add_column("Move", overflow="fold")
    for name in ("Steps", "Degrees", "Ends mm (95 %)", "Wait m"):
        table.add_column(name, justify="right", no_wrap=True)
    ends = {(end.station, end.axis): end for end in plan.outcomes}
    for move in plan.moves:
        degrees = "" if move.degrees is None else f"{move.degrees:+.2f}"
        table.add_row(
            str(move.order),
            str(move.station),
            move.ink,
            _whole_words(move),
            f"{move.steps:+d}",
            degrees,
            _ends(ends.get((move.station, move.axis))),
            f"{move.wait_m:.1f}",
        )
    return table


def _ends(end: Outcome | None) -> str:
    """Where a colour ends, with its interval; the reference takes all others along."""
    if end is None:
        return "shifts all others"
    return f"{end.remaining_mm:+.3f} ({end.low_mm:+.3f} {end.high_mm:+.3f})"


def _whole_words(move: Move) -> str:
    return f"{move.words}; {move.approach}" if move.approach else move.words


def plan_lines(plan: Plan) -> Iterator[str]:
    """The cost, how long to wait, and what the plan does not cure."""
    yield f"{plan.name.capitalize()}: {cost_words(plan.cost)}."
    if plan.moves:
        seconds = "" if plan.wait_s is None else f" ({plan.wait_s:.0f} s)"
        yield (
            f"Make the moves in this order, upstream first; then wait {plan.wait_m:.1f} m of web"
            f"{seconds} before judging them: earlier frames still show the old setting."
        )
    yield from (f"{one[:1].upper()}{one[1:]}." for one in plan.cautions)


def cost_words(cost: Cost) -> str:
    """ "2 moves at 2 stations, 0.25 mm in all; at most 31 % of a tolerance used"."""
    if not cost.moves:
        moves = "no move"
    else:
        moves = f"{cost.moves} move{'s' * (cost.moves > 1)} at {cost.stations} "
        moves += f"station{'s' * (cost.stations > 1)}, {cost.travel_mm:.2f} mm in all"
    left = f"at most {cost.worst_share:.0%} of a tolerance used"
    out = f"; {cost.outside} left without margin" if cost.outside else ""
    return f"{moves}; {left}{out}"


def told_lines(told: Told, job: Job) -> Iterator[str]:
    """What each move did, and what was learned."""
    for effect in told.effects:
        who = f"Station {effect.station} {effect.ink}, {effect.axis}"
        yield f"{who}: {effect.answer}: {effect.why}"
    for (number, axis), actuator in sorted(told.learned.items()):
        stated = job.press.stations[number - 1].steps.of(axis)
        yield f"Station {number}, {axis}, learned: {actuator_words(actuator, stated)}"


def plan_document(advice: Advice, told: Told) -> dict[str, Any]:
    """plan.json: both plans, who waits for what, what moves did, what was learned."""
    return {
        "format": FORMAT,
        "caution": CAUTION,
        "fewest": asdict(advice.fewest),
        "all_to_reference": asdict(advice.plain),
        "waiting": [{**asdict(one), "words": one.words} for one in advice.waiting.values()],
        "moves_made": [asdict(one) for one in told.effects],
        "learned": [
            {"station": number, "axis": axis, **asdict(actuator)}
            for (number, axis), actuator in sorted(told.learned.items())
        ],
    }
