"""regscan report: one HTML page from what a run's folder holds."""

import typer

from regscan.cli.options import ResultsFolder


def report(folder: ResultsFolder) -> None:
    """Write one HTML page from a run's folder."""
    from regscan.cli.results import writing_to
    from regscan.report.page import write_report

    with writing_to(folder):
        write_report(folder)
    typer.echo(f"Report: {folder / 'report.html'}")
