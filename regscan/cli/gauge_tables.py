"""What a gauge study came to, for the terminal."""

from collections.abc import Sequence

from rich.console import Console
from rich.table import Table

from regscan.cli.screen import WIDTH
from regscan.cli.tables import plain_table
from regscan.instrument.gauge.gauge import Gauge
from regscan.instrument.gauge.judge import remarks, verdict


def show_gauges(gauges: Sequence[Gauge], not_seen: Sequence[str], title: str) -> None:
    """The table, what the study cannot say, and the verdict."""
    console = Console(width=None if Console().is_terminal else WIDTH, highlight=False)
    console.print(gauges_table(gauges, title))
    for line in remarks(gauges, not_seen):
        console.print(line, markup=False)
    _, sentence = verdict(gauges)
    console.print(f"\n{sentence}\n", markup=False, style="bold")


def gauges_table(gauges: Sequence[Gauge], title: str) -> Table:
    """One line per colour and axis."""
    first = gauges[0]
    size = f"{first.parts} positions x {first.setups} set-ups x {first.trials} trials"
    if first.kind == "standing web":
        size = f"{first.trials} frames of a standing web"
    table = plain_table(f"{title}: {size}, {first.method}")
    table.caption = (
        "Standard deviations in µm. GRR: repeatability and reproducibility together. % tol.:"
        " 6 GRR over the whole tolerance band; % total: over this study's own spread."
        " Under 10 % of the tolerance acceptable, over 30 % not."
    )
    table.add_column("Ink", overflow="fold")
    table.add_column("Axis", no_wrap=True)
    for name in ("Repeat.", "Reprod.", "GRR", "% tol.", "% total", "ndc"):
        table.add_column(name, justify="right", no_wrap=True)
    table.add_column("Answer", overflow="fold")
    for gauge in gauges:
        parts, total = gauge.components, gauge.grr_percent_of_total
        seen_by = " ".join(p for p in (gauge.view.camera, gauge.view.edge) if p)
        table.add_row(
            f"{gauge.view.ink} {seen_by}".strip(),
            "circumf." if gauge.view.axis == "circumferential" else gauge.view.axis,
            _um(parts.repeatability),
            _um(parts.reproducibility),
            _um(gauge.grr_mm),
            f"{gauge.grr_percent:.1f}",
            "-" if total is None else f"{total:.1f}",
            "-" if gauge.categories is None else str(gauge.categories),
            gauge.band,
        )
    return table


def _um(sd_mm: float | None) -> str:
    return "-" if sd_mm is None else f"{1000.0 * sd_mm:.2f}"
