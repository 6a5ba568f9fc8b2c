"""regscan watch: a page beside the press (or a live table) while cameras drop frames."""

from pathlib import Path
from typing import Annotated

import typer

from regscan.cli.options import OUT, CameraFile, JobFile

WatchedFolder = Annotated[
    Path,
    typer.Argument(
        metavar="FOLDER", exists=True, file_okay=False, help="Where cameras drop their frames."
    ),
]
WatchOut = Annotated[
    Path | None,
    typer.Option(
        "--out", metavar="DIR", help="Folder for the results. Default: regscan-out/NAME-watch."
    ),
]
Listen = Annotated[
    str,
    typer.Option("--listen", metavar="ADDRESS", help="Serve beyond this machine, with a token."),
]
Port = Annotated[int, typer.Option("--port", min=0, max=65535, help="0: any free one.")]
Page = Annotated[
    bool, typer.Option("--page/--no-page", help="Serve a page, or show a live table here.")
]
NewOnly = Annotated[
    bool, typer.Option("--new-only", help="Pass over the frames that lie there already.")
]
EveryS = Annotated[
    float | None,
    typer.Option("--every-s", help="Seconds between frames that have no clock.", min=0.0),
]
EveryM = Annotated[
    float | None, typer.Option("--every-m", help="Metres of web between frames.", min=0.0)
]


def watch(
    folder: WatchedFolder,
    job: JobFile = None,
    camera: CameraFile = None,
    out: WatchOut = None,
    page: Page = True,
    listen: Listen = "127.0.0.1",
    port: Port = 8465,
    new_only: NewOnly = False,
    every_s: EveryS = None,
    every_m: EveryM = None,
) -> None:
    """Follow a folder: how each station stands, moves to make, waits, warnings."""
    from regscan.cli.given import Wanted
    from regscan.cli.installation import check_cv2
    from regscan.cli.screen import say
    from regscan.cli.watching import check_extra, following, show_page, show_table
    from regscan.recording.clock import Pitch, check_pitch

    if page:
        check_extra()
    pitch = Pitch(every_s, every_m)
    check_pitch(pitch, str(folder))
    out = out or OUT / f"{folder.resolve().name}-watch"
    say(check_cv2())
    with following(folder, Wanted(job, camera), out, pitch) as (desk, follower):
        if new_only:
            follower.arrivals.pass_over()
        if page:
            show_page(desk, follower, listen, port)
        else:
            show_table(desk, follower)
