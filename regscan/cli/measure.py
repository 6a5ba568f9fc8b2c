"""regscan measure: still frames to offsets."""

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
)


def measure(
    frames: Annotated[
        list[Path], typer.Argument(metavar="FRAMES...", help="Picture files or folders of them.")
    ],
    job: JobFile = None,
    camera: CameraFile = None,
    out: OutFolder = None,
    overlays: Overlays = True,
    parquet: Parquet = False,
    cluster: ClusterAddress = "",
    history: HistoryFile = None,
    resume: Resume = False,
    json: AsJson = False,
) -> None:
    """Measure still frames: each colour's offset in mm."""
    from regscan.cli.given import Wanted
    from regscan.cli.whole_run import Extras, FrameRun, run_frames

    wanted, extras = Wanted(job, camera), Extras(parquet, cluster, history=history)
    run = FrameRun("measure", tuple(frames), wanted, out, overlays, extras=extras, resume=resume)
    run_frames(run, json)
