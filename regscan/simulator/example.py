"""The built-in example: an invented job and camera, as the files they are read from."""

from dataclasses import dataclass
from pathlib import Path

from regscan.camera.camera import Camera
from regscan.job.job import Job

EXAMPLE = Path(__file__).parent / "honey_jar"


@dataclass(frozen=True, slots=True)
class Given:
    """A job and a camera with the text of their files, which goes along with the frames."""

    job: Job
    camera: Camera
    job_text: str
    camera_text: str


def given(job_file: Path | None = None, camera_file: Path | None = None) -> Given:
    """The files asked for; the built-in example's where none is named.

    Raises BadJob and BadCamera.
    """
    from regscan.camera.read import read_camera
    from regscan.job.read import read_job

    job_file = job_file or EXAMPLE / "job.toml"
    camera_file = camera_file or EXAMPLE / "camera.toml"
    job, camera = read_job(job_file), read_camera(camera_file)
    return Given(job, camera, job_file.read_text("utf-8-sig"), camera_file.read_text("utf-8-sig"))
