"""A small simulated run, drawn once and measured by whoever asks."""

import os
from dataclasses import dataclass
from pathlib import Path

import pytest
from typer.testing import CliRunner

from regscan.cli.app import app


def pytest_configure() -> None:
    """The suite runs on all processors: threads of numpy's own, which is not loaded yet, would
    only fight there (they make a third of the time of the run model's tests)."""
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
        os.environ.setdefault(name, "1")


@dataclass(frozen=True)
class SmallRun:
    """frames: a folder with job, camera, clock and truth; out: a place for results."""

    frames: Path
    out: Path


@pytest.fixture(scope="session")
def drawn(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("drawn") / "calm"
    drawing = ["simulate", "--scenario", "calm", "--frames", "4", "--out", str(folder)]
    done = CliRunner().invoke(app, drawing)
    assert done.exit_code == 0, done.output
    return folder


@pytest.fixture
def small_run(drawn, tmp_path) -> SmallRun:
    return SmallRun(drawn, tmp_path / "results")
