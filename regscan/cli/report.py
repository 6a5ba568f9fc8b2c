"""regscan report: one HTML page from what a run's folder holds."""

from pathlib import Path
from typing import Annotated

import typer

from regscan.cli.options import ResultsFolder

Frames = Annotated[
    Path | None,
    typer.Option(
        exists=True,
        file_okay=False,
        metavar="FOLDER",
        help="Draw marked-up frames and contact sheets anew from the frames in this folder.",
    ),
]


def report(folder: ResultsFolder, frames: Frames = None) -> None:
    """Write one HTML page from a run's folder."""
    from regscan.cli.results import writing_to
    from regscan.report.page import write_report

    with writing_to(folder):
        if frames is not None:
            _draw(folder, frames)
        write_report(folder)
    typer.echo(f"Report: {folder / 'report.html'}")


def _draw(folder: Path, frames: Path) -> None:
    """Marked-up frames of a run measured earlier; its frames are only looked at again."""
    from regscan.cli.installation import check_cv2
    from regscan.cli.screen import say
    from regscan.recording.sources import open_recording
    from regscan.report.overlays import write_overlays

    say(check_cv2())
    drawn = write_overlays(folder, open_recording([frames]))
    say("" if drawn else f"No frame of this run is in {frames}: nothing was drawn.")
