"""Small and read-only disks to write results on."""

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


@contextmanager
def small_disk(place: Path, options: str) -> Iterator[Path]:
    """A disk in memory, mounted at that place; skips the test where that is not allowed."""
    if sys.platform != "linux" or os.geteuid() != 0:
        pytest.skip("only root may mount a disk")
    place.mkdir(parents=True, exist_ok=True)
    done = _mount("-t", "tmpfs", "-o", options, "tmpfs", str(place))
    if done.returncode:
        pytest.skip(f"no disk can be mounted here: {done.stderr.strip()}")
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)


def change(place: Path, options: str) -> None:
    """Give the disk another size, or let it be written again."""
    assert _mount("-o", f"remount,{options}", str(place)).returncode == 0


def _mount(*args: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(["mount", *args], capture_output=True, text=True, check=False)
