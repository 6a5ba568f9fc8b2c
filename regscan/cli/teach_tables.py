"""What was taught, as tables and sentences for the terminal."""

from rich.console import Console
from rich.table import Table

from regscan.cli.screen import WIDTH
from regscan.cli.tables import WORDS, plain_table
from regscan.instrument.taught import Taught, TaughtColour
from regscan.job.job import AXES, Axis, Job


def show_taught(taught: Taught, job: Job) -> None:
    """Both tables and the remarks."""
    console = Console(width=None if Console().is_terminal else WIDTH, highlight=False)
    console.print(colours_table(taught, job))
    console.print(places_table(taught, job))
    for remark in taught.remarks:
        console.print(f"! {remark}", markup=False)
    if taught.remarks:
        console.print()


def colours_table(taught: Taught, job: Job) -> Table:
    """One line per colour: what the camera sees, how steady, how far from the job's."""
    frames = f"{taught.frames} frame{'' if taught.frames == 1 else 's'}"
    table = plain_table(f"{job.name}: colours from {frames}, marks told apart {taught.found}")
    table.caption = (
        "Red, green, blue: shares of full scale in linear light. Spread: rms of single frames."
        " Off: from what the job said. Both in CIEDE2000 units."
    )
    table.add_column("Colour", overflow="fold")
    for name in ("Red", "Green", "Blue", "Frames", "Spread", "Off"):
        table.add_column(name, justify="right", no_wrap=True)
    _add(table, "substrate", taught.substrate)
    for ink, colour in taught.inks.items():
        _add(table, ink, colour)
    for inks, colour in taught.overprints.items():
        _add(table, " on ".join(i for i in taught.inks if i in inks), colour)
    return table


def _add(table: Table, name: str, colour: TaughtColour) -> None:
    values = [f"{value:.4f}" for value in colour.camera]
    doubts = ["-" if d is None else f"{d:.1f}" for d in (colour.spread, colour.difference)]
    table.add_row(name, *values, str(colour.frames), *doubts)


def places_table(taught: Taught, job: Job) -> Table:
    """One line per mark: where the approved sheet has it, off the design."""
    table = plain_table(f"Places on the approved sheet, off the design, against {job.reference}")
    table.add_column("St", justify="right")
    table.add_column("Ink", overflow="fold")
    table.add_column("Edge", overflow="fold")
    table.add_column("Circumf. mm ±sd", justify="right", no_wrap=True)
    table.add_column("Lateral mm ±sd", justify="right", no_wrap=True)
    table.add_column("Good", justify="right")
    table.add_column("Area", justify="right")
    for mark in taught.marks:
        here = mark.approved
        offs = [(here.circumferential_mm, here.circumferential_sd_mm)] if here else []
        offs += [(here.lateral_mm, here.lateral_sd_mm)] if here else []
        words = [off_text(off, sd, axis) for (off, sd), axis in zip(offs, AXES, strict=False)]
        if not here:
            words = ["reference" if mark.ink == job.reference else "not learnt", ""]
        area = "-" if mark.area_ratio is None else f"{mark.area_ratio:.2f}"
        station = str(job.station_of(mark.ink).number)
        table.add_row(station, mark.ink, mark.edge or "-", *words, str(mark.frames), area)
    return table


def off_text(off_mm: float, sd_mm: float, axis: Axis) -> str:
    """ "late 0.0120 ±0.0004": a place as word, size and doubt."""
    size = f"{abs(off_mm):.4f}"
    word = "" if float(size) == 0 else WORDS[axis][off_mm < 0] + " "
    return f"{word}{size} ±{sd_mm:.4f}"
