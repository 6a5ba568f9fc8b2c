"""regscan teach: learn colours, overprints and the zero from frames of an approved sheet."""

from pathlib import Path
from typing import Annotated, Literal

import typer

from regscan.cli.options import CameraFile, JobFile

TaughtFile = Annotated[
    Path | None,
    typer.Option(
        "--out", help="Job file to write. Default: job-taught.toml beside the job.", metavar="FILE"
    ),
]
Zero = Annotated[
    Literal["design", "approved"] | None,
    typer.Option(
        "--zero", help="What offsets count from in the new job. Default: as in the job given."
    ),
]


def teach(
    frames: Annotated[
        list[Path],
        typer.Argument(metavar="FRAMES...", help="Pictures of the approved sheet, or folders."),
    ],
    job: JobFile = None,
    camera: CameraFile = None,
    out: TaughtFile = None,
    zero: Zero = None,
) -> None:
    """Learn a job's colours and zero from approved frames."""
    from regscan.cli.given import Wanted, beside, given_cameras, given_job

    folder = beside(frames)
    given = given_job(Wanted(job, camera), folder)
    cameras = given_cameras(Wanted(job, camera), folder, given)

    from regscan.cli.installation import check_cv2
    from regscan.cli.results import writing_to
    from regscan.cli.screen import frame_progress, say
    from regscan.cli.teach_tables import show_taught
    from regscan.instrument.teach import Sheet, check_zero, learn
    from regscan.instrument.teach_file import write_taught_job
    from regscan.recording.sources import open_recording

    say(check_cv2())
    recording = open_recording(frames)
    wanted = zero or given.zero
    with frame_progress() as progress:
        taught = learn(Sheet(recording.sources, given, cameras, recording.folder), progress)
    show_taught(taught, given)
    check_zero(taught, given, wanted, recording.folder)
    path = out or Path(given.path).parent / "job-taught.toml"
    with writing_to(path):
        written = write_taught_job(given, taught, wanted, path)
    typer.echo(f"Zero: {written.zero_words}.")
    typer.echo(f"Job:  {path}")
