"""What a command was given: job, cameras, speed log, each from its option or beside the frames."""

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from regscan.errors import BadCamera, BadInput, BadJob, Problem
from regscan.job.job import Job

if TYPE_CHECKING:
    from regscan.camera.camera import Camera
    from regscan.recording.speedlog import SpeedLog


@dataclass(frozen=True, slots=True)
class Wanted:
    """The files asked for by option; None means: look beside the frames."""

    job: Path | None = None
    camera: Path | None = None
    speed_log: Path | None = None


def beside(frames: Sequence[Path]) -> Path:
    """The folder whose own files count: the first folder given, or that of the first frame."""
    return next((path for path in frames if os.path.isdir(path)), frames[0].parent)


def given_job(wanted: Wanted, folder: Path) -> Job:
    """The job of the option, or the folder's own. Raises BadJob."""
    from regscan.job.read import read_job

    return read_job(wanted.job or _own(folder, "job.toml", "--job", BadJob))


def given_cameras(wanted: Wanted, folder: Path, job: Job) -> "dict[str, Camera]":
    """One Camera for every name that frames may carry. Raises BadCamera.

    A camera's file is the option's where the press has one camera, else the one
    named in the job, else the option's, else camera.toml beside the frames. A
    file named in the job is looked for beside the job file.
    """
    from regscan.camera.read import read_camera

    posts = job.press.cameras
    cameras: dict[str, Camera] = {}
    for post in posts:
        named = Path(job.path).parent / post.file if post.file else None
        first, second = (named, wanted.camera) if len(posts) > 1 else (wanted.camera, named)
        path = first or second or _own(folder, "camera.toml", "--camera", BadCamera)
        cameras[post.name] = replace(read_camera(path), name=post.name)
    if not posts:
        path = wanted.camera or _own(folder, "camera.toml", "--camera", BadCamera)
        cameras[""] = read_camera(path)
    elif len(posts) == 1:
        cameras[""] = cameras[posts[0].name]  # frames need not name an only camera
    return cameras


def given_speed_log(wanted: Wanted, folder: Path) -> "SpeedLog | None":
    """The speed log of the option, or the folder's own, or None. Raises BadSpeedLog."""
    from regscan.recording.speedlog import read_speed_log

    own = folder / "speed_log.csv"
    path = wanted.speed_log or (own if os.path.exists(own) else None)
    return read_speed_log(path) if path else None


def _own(folder: Path, name: str, option: str, error: type[BadInput]) -> Path:
    path = folder / name
    if not os.path.exists(path):
        raise error(
            path, Problem("", "there is no such file", f"put it there or give {option} FILE")
        )
    return path
