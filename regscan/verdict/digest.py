"""Digests of everything a certificate rests on, so that it can be checked later.

SHA-256 of every file: the run's own results, each frame that is a file of its own (or the
video or table the frames came from), and the files that lie beside the frames. The digest
printed on the certificate is that of the list of all of them.
"""

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from regscan.errors import BadTable, Problem

Where = Literal["results", "frames", "elsewhere"]
RESULTS = ("run.json", "offsets.csv", "marks.csv")
BESIDE = ("job.toml", "camera.toml", "frames.csv", "speed_log.csv")
CHUNK = 1 << 20


@dataclass(frozen=True, slots=True)
class FileDigest:
    """One file: `path` is its name within the folder that `where` names, or whole elsewhere."""

    where: Where
    path: str
    sha256: str


def digests(results: Path, frames: Path, names: Iterable[str], job: Path) -> list[FileDigest]:
    """The files of a run and what it was measured from, those that are there.

    frames   the folder of frames, or the one video or table.
    names    of the frames, as offsets.csv has them.
    """
    found: list[FileDigest] = []
    for where, path, name in _files(results, frames, names, job):
        if path.is_file():
            found.append(FileDigest(where, name, _sha256(path)))
    return found


def _files(
    results: Path, frames: Path, names: Iterable[str], job: Path
) -> Iterator[tuple[Where, Path, str]]:
    for name in RESULTS:
        yield "results", results / name, name
    if frames.is_dir():
        inside = {path.name for path in frames.iterdir()}
        wanted = sorted({_file_of(name, inside) for name in names} | set(BESIDE))
        for name in wanted:
            yield "frames", frames / name, name
    else:
        yield "elsewhere", frames, str(frames)
    if job.parent.resolve() != frames.resolve() and str(job):
        yield "elsewhere", job, str(job)


def _file_of(frame: str, inside: Iterable[str]) -> str:
    """The file a frame is in: its own, or the video whose name its own begins with."""
    if frame in inside:
        return frame
    longest = [name for name in inside if name and frame.startswith(name)]
    return max(longest, key=len, default=frame)


def combined(files: Iterable[FileDigest]) -> str:
    """One digest for all of them: SHA-256 of the sorted lines "sha256  where/path"."""
    lines = sorted(f"{one.sha256}  {one.where}/{one.path}\n" for one in files)
    return hashlib.sha256("".join(lines).encode("utf-8")).hexdigest()


def check(certificate: Path, files: Iterable[FileDigest], results: Path, frames: Path) -> None:
    """Raises BadTable, about the certificate, for every file that is gone or has changed."""
    problems = []
    for one in files:
        folders = {"results": results, "frames": frames, "elsewhere": Path()}
        path = folders[one.where] / one.path
        if not path.is_file():
            cure = "bring it back, or name the folder of frames with --frames"
            problems.append(Problem(one.path, "is no longer there", cure))
        elif _sha256(path) != one.sha256:
            what = "has changed since the certificate was written"
            problems.append(Problem(one.path, what, "measure again and write a new certificate"))
    if problems:
        raise BadTable(certificate, problems)


def _sha256(path: Path) -> str:
    digest = hashlib.sha256()
    try:
        with path.open("rb") as file:
            while block := file.read(CHUNK):
                digest.update(block)
    except OSError as fault:
        what = f"cannot be read ({fault.strerror})"
        raise BadTable(path, Problem("", what, "check its permissions")) from None
    return digest.hexdigest()
