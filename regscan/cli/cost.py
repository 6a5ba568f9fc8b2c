"""What a run cost in web, for the terminal: per station, where to cut, what would have saved it."""

from collections.abc import Iterator

from rich.table import Table

from regscan.cli.tables import WORDS, plain_table
from regscan.drift.cost import Cost, Cut, WhatIf
from regscan.drift.words import doubted
from regscan.run import Run

SHOWN = 12  # pieces to cut out; the rest is in cuts.csv


def cost_tables(run: Run) -> Iterator[Table]:
    """Web outside tolerance by station, and the job's cut list; none where nothing was outside."""
    cost = run.drift.cost
    if cost is None or not cost.cuts:
        return
    yield _stations(cost)
    yield _cuts(cost)


def _stations(cost: Cost) -> Table:
    table = plain_table("Web outside tolerance")
    table.add_column("St", justify="right")
    table.add_column("Ink", overflow="fold")
    table.add_column("Metres", justify="right")
    table.add_column("Frames", justify="right")
    for one in cost.stations:
        if one.frames_outside:
            row = _metres(one.metres_outside), str(one.frames_outside)
            table.add_row(str(one.station), one.ink, *row)
    whole = _metres(cost.metres_outside), f"{cost.frames_outside} of {cost.frames_total}"
    table.add_row("", "whole job, overlaps once", *whole)
    return table


def _cuts(cost: Cost) -> Table:
    table = plain_table("To cut out")
    more = len(cost.job_cuts) - SHOWN
    table.caption = f"{more} more, and each station's own list: cuts.csv" if more > 0 else None
    for name in ("From m", "To m", "Metres"):
        table.add_column(name, justify="right")
    table.add_column("Worst", overflow="fold")
    table.add_column("Stations", overflow="fold")
    for cut in cost.job_cuts[:SHOWN]:
        places = [_metres(value) for value in (cut.from_m, cut.to_m, cut.metres)]
        table.add_row(*places, _worst(cut), " ".join(str(number) for number in cut.stations))
    return table


def _worst(cut: Cut) -> str:
    word = WORDS[cut.axis][cut.worst_mm < 0]
    size = doubted(abs(cut.worst_mm), cut.worst_sd_mm)
    return f"{cut.station} {cut.ink} {word} {size}"


def _metres(metres: float | None) -> str:
    return "?" if metres is None else f"{metres:.1f}"


def cost_lines(run: Run) -> Iterator[str]:
    """What the waste would have been, and how long the print took to settle."""
    cost = run.drift.cost
    if cost is None:
        return
    if cost.cuts:
        yield from (_what_if(cost, one) for one in cost.what_ifs)
    known = [one for one in cost.settling if one.metres is not None]
    if known:
        slowest = max(known, key=lambda one: one.metres or 0.0)
        who = f"station {slowest.station} {slowest.ink}, {slowest.axis}"
        yield f"After a speed change, settled within {slowest.metres:.0f} m at most ({who})."
    unsettled = {f"{one.station} {one.ink}" for one in cost.settling if "had not" in one.why}
    if unsettled:
        yield f"Not settled when a hold ended: {', '.join(sorted(unsettled))}."


def _what_if(cost: Cost, one: WhatIf) -> str:
    name = {"advised moves": "With the advised moves", "slower ramps": "With slower ramps"}
    if one.unknown:
        return f"{name[one.name]}: unknown ({one.unknown})."
    frames = "" if one.frames_outside is None else f", {one.frames_outside} frames"
    size = f"{_metres(one.metres_outside)} m outside{frames}"
    return f"{name[one.name]}: {size} (was {_metres(cost.metres_outside)} m; {one.assumption})."
