"""regscan gauge: is this camera good enough for this tolerance?"""

from pathlib import Path
from typing import Annotated, Literal

import typer

from regscan.cli.options import CameraFile, JobFile, OutFolder

Frames = Annotated[
    list[Path] | None,
    typer.Argument(
        metavar="[FRAMES...]",
        help="Repeats of a standing web: pictures or a folder. Or a study: a folder with"
        " study.csv, or with POSITION/frames or POSITION/SETUP/frames.",
    ),
]
StudyFile = Annotated[
    Path | None,
    typer.Option(
        "--study",
        metavar="FILE",
        help="Which frame shows which position, in which set-up. Default: study.csv beside"
        " the frames.",
    ),
]
Table = Annotated[
    Path | None,
    typer.Option("--offsets", metavar="FILE", help="A table measured earlier; no frames then."),
]
Method = Annotated[
    Literal["anova", "ranges"],
    typer.Option("--method", help="Analysis of variance, or averages and ranges."),
]


def gauge(
    frames: Frames = None,
    study: StudyFile = None,
    offsets: Table = None,
    job: JobFile = None,
    camera: CameraFile = None,
    method: Method = "anova",
    out: OutFolder = None,
) -> None:
    """Say whether a camera is good enough for the job's tolerance.

    From repeated frames of a standing web, or from a study of positions, set-ups and trials."""
    from regscan.cli.gauge_study import Asked, judge_study

    if bool(frames) == bool(offsets):
        raise typer.BadParameter("give either FRAMES or --offsets FILE")
    judge_study(Asked(tuple(frames or ()), study, offsets, job, camera, method, out))
