"""regscan ramp: a whole run over speed holds and ramps, from frames or from a table."""

from pathlib import Path
from typing import Annotated

import typer

from regscan.cli.options import (
    AsJson,
    CameraFile,
    ClusterAddress,
    HistoryFile,
    JobFile,
    OutFolder,
    Overlays,
    Parquet,
    Resume,
    SpeedLogFile,
)


def ramp(
    folder: Annotated[
        Path | None,
        typer.Argument(metavar="FOLDER", help="Frames of the run, with files of its own."),
    ] = None,
    offsets: Annotated[
        Path | None,
        typer.Option("--offsets", metavar="FILE", help="A table measured earlier or elsewhere."),
    ] = None,
    job: JobFile = None,
    camera: CameraFile = None,
    speed_log: SpeedLogFile = None,
    every_s: Annotated[
        float | None,
        typer.Option("--every-s", help="Seconds between frames that have no clock.", min=0.0),
    ] = None,
    every_m: Annotated[
        float | None,
        typer.Option("--every-m", help="Metres of web between frames.", min=0.0),
    ] = None,
    against: Annotated[
        Path | None,
        typer.Option(
            "--against",
            metavar="DIR",
            help="Results of an earlier run (or its run.json): what has changed since.",
        ),
    ] = None,
    out: OutFolder = None,
    overlays: Overlays = True,
    parquet: Parquet = False,
    cluster: ClusterAddress = "",
    history: HistoryFile = None,
    resume: Resume = False,
    json: AsJson = False,
) -> None:
    """Measure a run: which colour left tolerance, when."""
    from regscan.cli.given import Wanted
    from regscan.cli.whole_run import Extras, FrameRun, run_frames, run_table

    wanted, extras = Wanted(job, camera, speed_log), Extras(parquet, cluster, against, history)
    if resume and folder is None:
        raise typer.BadParameter(
            "goes on with frames; a table is judged in one go", param_hint="--resume"
        )
    if offsets is not None and folder is None:
        run_table(offsets, wanted, out, json, extras)
    elif folder is not None and offsets is None:
        run = FrameRun("ramp", (folder,), wanted, out, overlays, every_s, every_m, extras, resume)
        run_frames(run, json)
    else:
        raise typer.BadParameter("give either a FOLDER of frames or --offsets FILE")
