"""A small simulated run, drawn once and measured by whoever asks."""

import signal
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import settings
from typer.testing import CliRunner

from regscan.cli.app import app
from regscan.threads import one_each

# The same examples every time. `pytest --hypothesis-profile=default` tries others.
settings.register_profile("steady", derandomize=True)
settings.load_profile("steady")


def pytest_configure() -> None:
    """The suite runs on all processors, and numpy is not loaded yet. A shell that starts it in the
    background has it ignore Ctrl-C, and so would the programs that tests send one to."""
    one_each()
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


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
