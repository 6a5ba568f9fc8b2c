"""The options that several commands share, each declared once."""

from pathlib import Path
from typing import Annotated

import typer

OUT = Path("regscan-out")

JobFile = Annotated[
    Path | None,
    typer.Option("--job", help="Job file. Default: job.toml beside the frames.", metavar="FILE"),
]
CameraFile = Annotated[
    Path | None,
    typer.Option(
        "--camera",
        help="Camera file. Default: the job's, then camera.toml beside the frames.",
        metavar="FILE",
    ),
]
SpeedLogFile = Annotated[
    Path | None,
    typer.Option(
        "--speed-log", help="Speed log. Default: speed_log.csv beside the frames.", metavar="FILE"
    ),
]
OutFolder = Annotated[
    Path | None,
    typer.Option("--out", help="Folder for the results. Default: regscan-out/NAME.", metavar="DIR"),
]
AsJson = Annotated[
    bool,
    typer.Option(
        "--json", help="Print one JSON document on standard output and nothing else there."
    ),
]
Overlays = Annotated[
    bool,
    typer.Option(
        "--overlays/--no-overlays", help="Draw what was measured into copies of the frames."
    ),
]
Parquet = Annotated[
    bool,
    typer.Option("--parquet", help="Write the tables as Parquet too (needs the extra `parquet`)."),
]
Resume = Annotated[
    bool,
    typer.Option("--resume", help="Go on with an interrupted run into the same folder."),
]
ClusterAddress = Annotated[
    str,
    typer.Option(
        "--cluster",
        help="Measure on a Dask cluster: its scheduler's address (needs the extra `cluster`)."
        " Frames must lie under the same path on every machine.",
        metavar="ADDRESS",
        show_default=False,
    ),
]
HistoryFile = Annotated[
    Path | None,
    typer.Option(
        "--history", help="Keep the run in this history too (regscan history).", metavar="FILE"
    ),
]
ResultsFolder = Annotated[
    Path, typer.Argument(metavar="DIR", help="Folder that measure or ramp wrote.")
]
