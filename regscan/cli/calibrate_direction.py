"""From frames before and after a known step to a camera file whose directions are proven."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from regscan.camera.direction import DirectionCheck
from regscan.errors import BadCamera, BadFrames, Problem
from regscan.job.job import Job

if TYPE_CHECKING:
    from regscan.camera.camera import Camera
    from regscan.instrument.direction.step import Step
    from regscan.recording.frame import Frame


@dataclass(frozen=True, slots=True)
class DirectionAsked:
    """The command's arguments."""

    before: Path
    after: Path
    job: Path | None
    camera: Path | None
    ink: str
    moved: str
    out: Path | None


def check_direction(asked: DirectionAsked) -> None:
    """Measure both sets, judge the step, store it in the camera file, say so."""
    step = _step(asked.moved)
    job, camera, path = _given(asked)
    _check_ink(asked.ink, job)

    from regscan.camera.read import write_direction
    from regscan.cli.installation import check_cv2
    from regscan.cli.screen import say
    from regscan.instrument.direction.check import judge_step
    from regscan.instrument.direction.seen import means_of, shifts_of

    say(check_cv2())
    before, after = (means_of(_frames(where), job, camera) for where in (asked.before, asked.after))
    check, problems = judge_step(asked.ink, step, shifts_of(before, after), camera)
    if check is None:
        raise BadCamera(path, problems)
    to = asked.out / "camera.toml" if asked.out else path
    write_direction(replace(camera, direction=check), path, to)
    typer.echo(f"{asked.ink}: {step.words}, and seen so: {_seen(check)}.")
    for axis in check.unproven:
        typer.echo(f"The {axis} direction is still to be checked, with a move on that axis.")
    typer.echo(f"Camera: {to}")


def _step(moved: str) -> "Step":
    from regscan.instrument.direction.step import step_of

    try:
        return step_of(moved)
    except ValueError as fault:
        raise typer.BadParameter(str(fault), param_hint="--moved") from None


def _given(asked: DirectionAsked) -> "tuple[Job, Camera, Path]":
    from regscan.camera.read import read_camera
    from regscan.cli.given import Wanted, beside, given_job

    folder = beside([asked.before])
    job = given_job(Wanted(asked.job, asked.camera), folder)
    path = asked.camera or folder / "camera.toml"
    return job, read_camera(path), path


def _check_ink(ink: str, job: Job) -> None:
    known = [one.name for one in job.inks if one.measurable]
    if ink not in known:
        raise typer.BadParameter(
            f"{ink!r} is no ink that can be measured; the job has {', '.join(known)}",
            param_hint="--ink",
        )


def _frames(where: Path) -> "Sequence[Frame]":
    """All readable frames of a file or folder. Raises BadFrames when there is none."""
    from regscan.recording.sources import open_recording, read_frame

    recording = open_recording([where])
    frames, problems = [], []
    for source in recording.sources:
        try:
            frames.append(read_frame(source))
        except BadFrames as bad:
            problems.append(Problem(source.info.name, bad.problems[0].what, bad.problems[0].cure))
    if not frames:
        raise BadFrames(recording.folder, problems)
    return frames


def _seen(check: DirectionCheck) -> str:
    parts = []
    if check.circumferential_seen_mm is not None:
        parts.append(f"{check.circumferential_seen_mm:+.4f} mm circumferential")
    if check.lateral_seen_mm is not None:
        parts.append(f"{check.lateral_seen_mm:+.4f} mm lateral")
    return ", ".join(parts)
