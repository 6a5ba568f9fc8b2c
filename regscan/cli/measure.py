"""regscan measure: still frames to offsets."""

from pathlib import Path
from typing import Annotated

import typer

from regscan.cli.options import AsJson, CameraFile, JobFile, OutFolder, Overlays


def measure(
    frames: Annotated[
        list[Path], typer.Argument(metavar="FRAMES...", help="Picture files or folders of them.")
    ],
    job: JobFile = None,
    camera: CameraFile = None,
    out: OutFolder = None,
    overlays: Overlays = True,
    json: AsJson = False,
) -> None:
    """Measure still frames: each colour's offset in mm."""
    from regscan.cli.given import Wanted
    from regscan.cli.whole_run import FrameRun, run_frames

    run_frames(FrameRun("measure", tuple(frames), Wanted(job, camera), out, overlays), json)
