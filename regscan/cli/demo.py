"""regscan demo: the whole job on the sample that comes with regscan."""

from pathlib import Path
from typing import Annotated

import typer

import regscan
from regscan.errors import BadFrames, Problem

PACKAGE = Path(regscan.__file__).parent


def demo(
    out: Annotated[
        Path, typer.Option("--out", metavar="DIR", help="Folder for the results.")
    ] = Path("regscan-demo"),
) -> None:
    """Do the whole job on the bundled sample run."""
    from regscan.cli.given import Wanted
    from regscan.cli.whole_run import FrameRun, run_frames

    typer.echo("An invented run: two slow-downs on a six-colour press.", err=True)
    run_frames(FrameRun("ramp", (sample("ramp"),), Wanted(), out, overlays=True), json=False)


def sample(name: str) -> Path:
    """A bundled sample's folder: inside an installed wheel, or beside it in a checkout."""
    for folder in (PACKAGE / "sample_images", PACKAGE.parent / "sample_images"):
        if (folder / name).is_dir():
            return folder / name
    raise BadFrames(
        PACKAGE / "sample_images",
        Problem("", "the samples are missing from this installation", "install regscan again"),
    )
