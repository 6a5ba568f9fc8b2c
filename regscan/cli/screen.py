"""What a command shows: progress on standard error, results on standard output."""

import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import typer
from rich.console import Console, Group, RenderableType
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

from regscan.cli.acceptance import change_lines, changes_tables, protocol_lines
from regscan.cli.across import across_lines, edges_tables
from regscan.cli.alerts import alert_lines
from regscan.cli.cost import cost_lines, cost_tables
from regscan.cli.tables import corrections_table, offsets_table, remarks, verdict_table
from regscan.cli.why import why_lines
from regscan.drift.comparison import Comparison
from regscan.run import Run

WIDTH = 80  # narrow enough for every terminal and for a printed log
CAUTION = (
    "regscan advises and moves nothing. Stop, isolate, then check; the machine maker's"
    " instructions, local rules and trained people come first."
)


def say(text: str) -> None:
    """A line for people, on standard error; nothing for an empty text."""
    if text:
        typer.echo(text, err=True)


@contextmanager
def frame_progress(doing: str = "Measuring frames") -> Iterator[Callable[[int, int], None]]:
    """A progress bar with the time left; silent when standard error is no terminal."""
    console = Console(stderr=True)
    if not console.is_terminal:  # a bar of an older rich ends with an empty line even there
        yield lambda done, total: None
        return
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task(doing, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


def announce(out: Path, run: Run, as_json: bool, comparison: Comparison | None = None) -> None:
    """Say what a measured run came to and where its files lie."""
    if as_json:
        print_json(out, run)
        return
    tables = Group(
        offsets_table(run), *edges_tables(run), *cost_tables(run), *changes_tables(comparison)
    )
    lines = [*remarks(run), *across_lines(run.drift), *why_lines(run), *cost_lines(run)]
    lines += [*alert_lines(run), *protocol_lines(run), *change_lines(comparison)]
    _show(tables, lines, run.verdict.sentence)
    typer.echo(f"Results: {out}")
    typer.echo(f"Report:  {out / 'report.html'}")


def show_corrections(run: Run, title: str) -> None:
    """The moves, the inks that cannot be measured, and the caution."""
    inks = run.job.unmeasurable_inks
    unseen = [f"{ink}: not measurable, leaves no visible mark" for ink in inks]
    _show(corrections_table(run, title), unseen, CAUTION)


def show_verdict(run: Run) -> None:
    """The gate's cases with their reasons, and its sentence."""
    reasons = [
        f"Station {case.station} {case.ink}, {case.axis}: {case.why}"
        for case in run.verdict.cases
        if case.answer != "in register"
    ]
    _show(verdict_table(run), reasons, run.verdict.sentence)


def print_json(folder: Path, run: Run, parts: Sequence[str] = ()) -> None:
    """One JSON document: what run.json holds (or parts of it), the folder, the exit code."""
    document: dict[str, Any] = json.loads((folder / "run.json").read_text(encoding="utf-8"))
    if parts:
        document = {key: document[key] for key in ("format", "kind", *parts)}
    document |= {"folder": str(folder), "not_measurable": list(run.job.unmeasurable_inks)}
    comparison = folder / "comparison.json"
    if not parts and comparison.exists():
        document["comparison"] = json.loads(comparison.read_text(encoding="utf-8"))
    typer.echo(json.dumps(document, ensure_ascii=False, indent=2))


def show_part(table: RenderableType | None, lines: Sequence[str]) -> None:
    """A table, where there is one, and the lines under it."""
    console = _console()
    if table is not None:
        console.print(table)
    for line in lines:
        console.print(line, markup=False, soft_wrap=False)
    console.print()


def _console() -> Console:
    return Console(width=None if Console().is_terminal else WIDTH, highlight=False)


def _show(table: RenderableType, lines: list[str], closing: str) -> None:
    console = _console()
    console.print(table)
    for line in lines:
        console.print(line, markup=False, soft_wrap=False)
    console.print(f"\n{closing}\n", markup=False, style="bold")
