"""What must be alike on two machines that are to give the same rows: code, libraries, files."""

import hashlib
import platform
from collections.abc import Mapping
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from regscan.errors import NoCluster

LIBRARIES = ("numpy", "opencv-python-headless", "scipy", "scikit-image")
NOT_THERE = -1


@cache
def standing() -> dict[str, str]:
    """What decides the last digits here: the code, the libraries, Python, kind of processor."""
    return {
        "regscan": _digest(),
        **{name: _version(name) for name in LIBRARIES},
        "Python": ".".join(platform.python_version_tuple()[:2]),
        "processor": platform.machine(),
    }


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "none"


def _digest() -> str:
    """Of every source file of regscan: two checkouts of one version may differ."""
    found = hashlib.sha256()
    for path in sorted(Path(__file__).parents[1].rglob("*.py")):
        found.update(path.read_bytes())
    return found.hexdigest()[:12]


def check_standing(worker: str, theirs: Mapping[str, str], ours: Mapping[str, str]) -> None:
    """Raises NoCluster, with everything that differs, where a worker stands on something else."""
    other = [
        f"{name} {theirs.get(name, 'none')}, here {ours[name]}"
        for name in ours
        if theirs.get(name) != ours[name]
    ]
    if other:
        raise NoCluster(
            f"worker {worker} differs from this machine ({'; '.join(other)}), so its rows might"
            " differ in their last digits -> install the same versions on both"
        )


def size_of(path: Path) -> int:
    """Bytes of a file; NOT_THERE for one that cannot be seen."""
    try:
        return path.stat().st_size
    except OSError:
        return NOT_THERE


def check_size(worker: str, path: Path, theirs: int) -> None:
    """A file that is here must be the same there; one that is gone here may be gone there.

    theirs   its size as the worker saw it. Raises NoCluster.
    """
    here = size_of(path)
    if here == NOT_THERE:
        return
    if theirs == NOT_THERE:
        raise NoCluster(
            f"worker {worker} does not find {path} -> put the frames on a share that every"
            " machine mounts under the same path"
        )
    if theirs != here:
        raise NoCluster(
            f"worker {worker} sees {path} with {theirs} bytes, here it has {here} -> check that"
            " the path leads to the same share on both"
        )
