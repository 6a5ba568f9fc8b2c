"""regscan history: runs of months in one file, and what they say of each station."""

from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

OURS = Path("regscan-history.sqlite")

history = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    help="Keep runs of months in one file, and see what changes.",
)

File = Annotated[
    Path,
    typer.Option("--history", help="The history file.", metavar="FILE"),
]
Press = Annotated[str, typer.Option("--press", help="Only this press.", show_default=False)]
JobName = Annotated[str, typer.Option("--job-name", help="Only this job.", show_default=False)]
Number = Annotated[int, typer.Argument(metavar="RUN", help="Its number in regscan history list.")]
AsJson = Annotated[
    bool,
    typer.Option("--json", help="Print one JSON document instead of tables."),
]
Across = Annotated[
    bool,
    typer.Option(
        "--across-jobs",
        help="Compare runs of different jobs too, where jobs seldom come again.",
    ),
]


def moment(text: str) -> str:
    """A day or moment as it was written. Raises BadParameter for what is none."""
    try:
        return datetime.fromisoformat(text).isoformat() if text else ""
    except ValueError:
        raise typer.BadParameter(f"{text!r} is no day such as 2026-11-25") from None


Since = Annotated[
    str,
    typer.Option(
        "--since", help="Only runs measured since this day.", metavar="DAY", callback=moment
    ),
]


@history.command()
def add(
    folders: Annotated[
        list[Path], typer.Argument(metavar="DIR...", help="Folders that measure or ramp wrote.")
    ],
    file: File = OURS,
    note: Annotated[
        str, typer.Option("--note", help="What people should know of it.", show_default=False)
    ] = "",
) -> None:
    """Keep runs. The same run is kept once, however often it is added."""
    from regscan.cli.remember import remember

    for folder in folders:
        typer.echo(remember(file, folder, note))


@history.command("list")
def list_runs(
    file: File = OURS,
    press: Press = "",
    job: JobName = "",
    since: Since = "",
    json: AsJson = False,
) -> None:
    """List the runs, in the order in which they were measured."""
    from regscan.cli.history_shown import print_records, show_entries
    from regscan.history.store import open_history

    with open_history(file) as opened:
        entries = opened.entries(press=press, job=job, since=since)
    print_records("runs", entries) if json else show_entries(entries)


@history.command()
def show(number: Number, file: File = OURS, json: AsJson = False) -> None:
    """Show one run: what is kept of it; with --json its run.json."""
    from regscan.cli.history_shown import show_run
    from regscan.history.store import open_history

    with open_history(file) as opened:
        if json:
            typer.echo(opened.document(number).decode("utf-8", "replace").rstrip())
        else:
            show_run(opened.entry(number), opened.settings(number), opened.readings(number))


@history.command()
def compare(
    first: Number,
    second: Annotated[int, typer.Argument(metavar="OTHER", help="The run to hold against it.")],
    file: File = OURS,
    json: AsJson = False,
) -> None:
    """Hold two runs against each other: offsets and measures that differ."""
    from regscan.cli.history_shown import print_records, show_differences
    from regscan.history.compare import compare as differences
    from regscan.history.store import open_history

    with open_history(file) as opened:
        found = differences(opened, first, second)
        runs = opened.entry(first), opened.entry(second)
    print_records("differences", found) if json else show_differences(*runs, found)


@history.command()
def health(
    file: File = OURS,
    press: Press = "",
    since: Since = "",
    across_jobs: Across = False,
    json: AsJson = False,
) -> None:
    """Say which station to look at first, and why: play, speed term, warm-up, noise over jobs."""
    from regscan.cli.history_shown import print_health, show_health
    from regscan.history.health import Asked, health_of
    from regscan.history.store import open_history

    with open_history(file) as opened:
        found = health_of(opened, Asked(press, since, across_jobs))
    print_health(found) if json else show_health(found)


@history.command()
def waste(
    file: File = OURS,
    press: Press = "",
    job: JobName = "",
    since: Since = "",
    json: AsJson = False,
) -> None:
    """Metres of web outside tolerance, month by month."""
    from regscan.cli.history_shown import print_records, show_waste
    from regscan.history.store import open_history
    from regscan.history.waste import waste_of

    with open_history(file) as opened:
        months = waste_of(opened.entries(press=press, job=job, since=since))
    print_records("months", months) if json else show_waste(months)


@history.command()
def start(
    job: Annotated[str, typer.Argument(metavar="JOB", help="The job's name.")],
    file: File = OURS,
    press: Press = "",
    json: AsJson = False,
) -> None:
    """Where to begin the next set-up of a job: how it was left, and what repeats."""
    from regscan.cli.history_shown import print_records, show_start
    from regscan.history.start import start_of
    from regscan.history.store import open_history

    with open_history(file) as opened:
        found = start_of(opened, job, press)
    print_records("stations", found.lines) if json else show_start(found)


@history.command()
def page(
    file: File = OURS,
    press: Press = "",
    since: Since = "",
    across_jobs: Across = False,
    out: Annotated[Path, typer.Option("--out", help="The page.", metavar="FILE")] = Path(
        "history.html"
    ),
) -> None:
    """Write pictures of all of it: one HTML page of a press."""
    from regscan.history.health import Asked
    from regscan.history.page import write_page
    from regscan.history.store import open_history

    with open_history(file) as opened:
        write_page(opened, Asked(press, since, across_jobs), out)
    typer.echo(f"Page: {out}")


@history.command()
def prune(
    file: File = OURS,
    before: Annotated[
        str,
        typer.Option(
            "--before", help="Only runs measured before this day.", metavar="DAY", callback=moment
        ),
    ] = "",
    keep: Annotated[
        int | None,
        typer.Option("--keep", help="Spare so many of the newest runs of each job.", min=0),
    ] = None,
    run: Annotated[
        list[int] | None, typer.Option("--run", help="Only this run; may be given again.")
    ] = None,
    yes: Annotated[
        bool, typer.Option("--yes", help="Take them out; without it they are only listed.")
    ] = False,
) -> None:
    """Take old runs out. A run goes when every rule that is given allows it."""
    from regscan.cli.history_shown import show_entries
    from regscan.history.prune import Prune, chosen
    from regscan.history.store import open_history

    rules = Prune(before, keep, tuple(run or ()))
    if not rules:
        raise typer.BadParameter("give --before, --keep or --run")
    with open_history(file) as opened:
        for number in rules.numbers:
            opened.entry(number)
        gone = chosen(opened.entries(), rules)
        if gone:
            show_entries(gone)
        if not yes:
            typer.echo(f"{len(gone)} would go; nothing was taken out. Add --yes to do it.")
            return
        done = opened.remove([entry.number for entry in gone])
        opened.shrink()
    typer.echo(f"{done} taken out.")


@history.command()
def copy(
    to: Annotated[Path, typer.Argument(metavar="FILE", help="Where the copy goes.")],
    file: File = OURS,
) -> None:
    """A whole copy in one file, also while others write."""
    from regscan.history.store import open_history

    with open_history(file) as opened:
        opened.copy(to)
        runs = len(opened.entries())
    typer.echo(f"Copy of {runs} run{'' if runs == 1 else 's'}: {to}")
