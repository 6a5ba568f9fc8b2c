"""regscan correct: the moves that bring every colour back, from a run's folder."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from regscan.cli.options import AsJson, ResultsFolder
from regscan.verdict.choices import PlanChoice

if TYPE_CHECKING:
    import numpy as np

    from regscan.cli.moves_shown import Told
    from regscan.run import Run
    from regscan.verdict.advice import Advice

Last = Annotated[
    int | None,
    typer.Option("--last", min=1, help="Use the last N frames only.", metavar="N"),
]
Choice = Annotated[
    PlanChoice,
    typer.Option("--plan", help="Which plan goes into corrections.csv; both are shown."),
]
Moves = Annotated[
    Path | None,
    typer.Option("--moves", help="Log of moves made; each is checked.", metavar="FILE"),
]
Before = Annotated[
    Path | None,
    typer.Option(
        "--before", help="With --moves: folder of the run before the moves.", metavar="DIR"
    ),
]
Learned = Annotated[
    Path | None,
    typer.Option(
        "--learned",
        help="What moves taught about this press: used for the steps, and added to by --moves.",
        metavar="FILE",
    ),
]


def correct(
    folder: ResultsFolder,
    last: Last = None,
    plan: Choice = "reference",
    moves: Moves = None,
    before: Before = None,
    learned: Learned = None,
    json: AsJson = False,
) -> None:
    """Say which station to move, which way, by how much; or check moves that were made.

    corrections.csv holds the plan of --plan: all to the reference, or the fewest moves.
    plan.json holds both, with their order, waits and costs.
    """
    from dataclasses import replace

    from regscan.run import load_run
    from regscan.verdict.advice import advise, check_levels, looked_into

    if before and not moves:
        raise typer.BadParameter("is only of use with --moves", param_hint="--before")
    run = load_run(folder / "run.json")
    table = _table(folder, needed=bool(last or moves))
    told = _told(run, table, moves, before, learned)
    settled = looked_into(run.drift, table, run.job, last)
    advice = advise(settled, run.job, told.learned, plan)
    check_levels(advice.corrections, run.job, folder / "run.json")
    run = replace(run, corrections=advice.corrections)
    _write(folder, advice, told)
    if json:
        _print_json(folder, run, advice, told)
    else:
        _show(run, advice, told, plan)


def _table(folder: Path, needed: bool) -> "np.ndarray | None":
    """The run's offsets; None where they are not there and nothing asked needs them."""
    from regscan.offsets.table import read_offsets

    path = folder / "offsets.csv"
    return read_offsets(path) if needed or path.exists() else None


def _told(
    run: "Run",
    table: "np.ndarray | None",
    moves: Path | None,
    before: Path | None,
    learned: Path | None,
) -> "Told":
    """What the log of moves shows, and what this press taught up to now."""
    from regscan.cli.moves_shown import Told
    from regscan.run import load_run
    from regscan.verdict.learn import learn, lessons_of, merged, read_lessons, write_lessons
    from regscan.verdict.movelog import read_moves
    from regscan.verdict.seen import between_runs, within_run

    lessons = read_lessons(learned, run.job) if learned else []
    effects = []
    if moves:
        made = read_moves(moves, run.job)
        if before:
            old = load_run(before / "run.json")
            effects = between_runs(made, old.drift, run.drift, run.job)
        else:
            assert table is not None
            effects = within_run(made, table, run.job, moves)
        lessons = merged(lessons, lessons_of(effects, str(moves.resolve().parent.name)))
        if learned:
            write_lessons(learned, lessons)
    return Told(effects, learn(lessons, run.job) if learned else {})


def _write(folder: Path, advice: "Advice", told: "Told") -> None:
    import json

    from regscan.cli.moves_shown import plan_document
    from regscan.cli.results import writing_to
    from regscan.verdict.correct import write_corrections
    from regscan.wholefile import write_whole

    path = folder / "corrections.csv"
    with writing_to(path):
        write_corrections(path, advice.corrections)
    text = json.dumps(plan_document(advice, told), indent=1, ensure_ascii=False)
    with writing_to(folder / "plan.json"):
        write_whole(folder / "plan.json", text + "\n")


def _print_json(folder: Path, run: "Run", advice: "Advice", told: "Told") -> None:
    import json
    from dataclasses import asdict

    from regscan.cli.moves_shown import plan_document

    saved = json.loads((folder / "run.json").read_text(encoding="utf-8"))
    document: dict[str, Any] = {key: saved[key] for key in ("format", "kind", "job")}
    document["corrections"] = [asdict(one) for one in run.corrections]
    document["plans"] = plan_document(advice, told)
    document |= {"folder": str(folder), "not_measurable": list(run.job.unmeasurable_inks)}
    typer.echo(json.dumps(document, ensure_ascii=False, indent=2))


def _show(run: "Run", advice: "Advice", told: "Told", choice: PlanChoice) -> None:
    from regscan.cli.moves_shown import (
        compared,
        cost_words,
        plan_lines,
        plan_table,
        plans_shown,
        told_lines,
    )
    from regscan.cli.screen import show_corrections, show_part

    if told.effects or told.learned:
        show_part(None, list(told_lines(told, run.job)))
    show_part(compared(advice), [])
    shown = plans_shown(advice)
    for plan in shown:
        show_part(plan_table(plan), list(plan_lines(plan)))
    if not shown:
        show_part(None, [f"No move is needed: {cost_words(advice.plain.cost)}."])
    chosen = advice.fewest if choice == "fewest" else advice.plain
    show_corrections(run, f"In corrections.csv: {chosen.name}")
