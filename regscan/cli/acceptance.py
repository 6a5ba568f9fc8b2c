"""The acceptance protocol and the comparison with an earlier run, for the terminal."""

from collections.abc import Iterator

from rich.table import Table

from regscan.cli.tables import plain_table
from regscan.drift.comparison import Compared, Comparison
from regscan.run import Run


def protocol_lines(run: Run) -> Iterator[str]:
    """Whether the run holds what the job's acceptance protocol asks; what is missing."""
    check = run.drift.acceptance
    if check is None:
        return
    if check.kept:
        yield f"Acceptance run ({check.name}): complete."
        return
    yield f"Acceptance run ({check.name}): not complete."
    yield from (f"  Missing: {sentence}." for sentence in check.missing)


def changes_tables(comparison: Comparison | None) -> Iterator[Table]:
    """Every number that has changed; none where nothing has."""
    changed = [one for one in comparison.compared if one.changed] if comparison else []
    if not changed or comparison is None:
        return
    table = plain_table(f"Changed since {comparison.before_made_at or comparison.before}")
    table.add_column("St", justify="right")
    table.add_column("Ink", overflow="fold")
    table.add_column("Axis", overflow="fold")
    table.add_column("What", overflow="fold")
    for name in ("Now", "Before", "±sd"):
        table.add_column(name, justify="right", no_wrap=True)
    for one in changed:
        table.add_row(str(one.station), one.ink, one.axis, _what(one), *_numbers(one))
    yield table


def _what(one: Compared) -> str:
    unit = "" if one.unit == "mm" else f", {one.unit}"
    return f"{one.what}, {one.detail}{unit}"


def _numbers(one: Compared) -> tuple[str, str, str]:
    # The doubt of noise is one of a ratio, so it is given as a share.
    doubt = f"{one.sd:.0%}" if one.what == "noise" else f"{one.sd:.2g}"
    return f"{one.now:+.3g}", f"{one.before:+.3g}", doubt


def change_lines(comparison: Comparison | None) -> Iterator[str]:
    """What has changed, in sentences; how it was told; what could not be compared."""
    if comparison is None:
        return
    yield ""
    yield f"Against {comparison.before}:"
    yield from (f"  {sentence}" for sentence in comparison.sentences)
    yield from (f"  Reduced: {note}." for note in comparison.notes)
    yield f"  Method: {comparison.method}."
