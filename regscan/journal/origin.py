"""What a run was begun with, as digests: rows of another job, camera or frames do not mix."""

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

import numpy as np

import regscan
from regscan.camera.camera import Camera
from regscan.job.job import Job
from regscan.recording.sources import Recording
from regscan.recording.speedlog import SpeedLog

Origin = Mapping[str, str]
"""What a run rests on: its name for people, and a digest of it."""


@dataclass(frozen=True, slots=True)
class Given:
    """Everything a run is measured and judged from."""

    kind: str
    job: Job
    cameras: Mapping[str, Camera]
    recording: Recording
    speed_log: SpeedLog | None = None


def origin_of(given: Given) -> Origin:
    """The digests by what they are of. The frames' pixels are left to each frame's own stamp."""
    frames = [(source.info, source.number) for source in given.recording.sources]
    log = given.speed_log
    return {
        "command": f"regscan {given.kind}",
        "regscan": regscan.__version__,
        "job": digest(replace(given.job, path="")),  # it may have been moved
        "camera": digest(dict(given.cameras)),
        "list of frames": digest(frames),
        "speed log": digest((log.time_s, log.speed_m_min) if log else None),
    }


def digest(value: Any) -> str:
    """SHA-256 over a value of records, tables and numbers, the same in every process."""
    found = hashlib.sha256()
    for part in _parts(value):
        found.update(part)
        found.update(b"\0")
    return found.hexdigest()


def _parts(value: Any) -> Iterator[bytes]:
    if is_dataclass(value):
        yield type(value).__name__.encode()
        for field in fields(value):
            yield from _parts(getattr(value, field.name))
    elif isinstance(value, Mapping):
        for key in sorted(value, key=str):
            yield str(key).encode()
            yield from _parts(value[key])
    elif isinstance(value, set | frozenset):
        yield from _parts(sorted(value))
    elif isinstance(value, list | tuple):
        yield b"%d" % len(value)
        for one in value:
            yield from _parts(one)
    elif isinstance(value, np.ndarray):
        yield value.tobytes()
    else:
        yield f"{type(value).__name__} {value!r}".encode("utf-8", "surrogatepass")
