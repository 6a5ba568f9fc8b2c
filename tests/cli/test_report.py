"""regscan report: the page anew, and marked-up frames on demand."""

from pathlib import Path

import pytest
from typer.testing import CliRunner

from regscan.cli.app import app


@pytest.fixture(scope="module")
def results(drawn, tmp_path_factory) -> Path:
    out = tmp_path_factory.mktemp("results") / "out"
    done = CliRunner().invoke(app, ["ramp", str(drawn), "--out", str(out), "--no-overlays"])
    assert done.exit_code == 0, done.output
    return out


def test_frames_are_marked_up_afterwards(results, drawn):
    assert not (results / "overlays").exists()
    done = CliRunner().invoke(app, ["report", str(results), "--frames", str(drawn)])
    assert done.exit_code == 0, done.output
    names = sorted(path.name for path in (results / "overlays").iterdir())
    assert "sheet-1.jpg" in names
    assert any(name.startswith("worst-") for name in names)


def test_a_folder_without_frames_of_the_run_is_told_and_draws_nothing(results, tmp_path):
    import cv2
    import numpy as np

    cv2.imwrite(str(tmp_path / "other.png"), np.zeros((40, 60, 3), np.uint8))
    before = (results / "report.html").read_bytes()
    done = CliRunner().invoke(app, ["report", str(results), "--frames", str(tmp_path)])
    assert done.exit_code == 0
    assert "nothing was drawn" in done.output
    assert (results / "report.html").read_bytes() == before


def test_a_folder_that_is_not_there_is_wrong_usage(results, tmp_path):
    done = CliRunner().invoke(app, ["report", str(results), "--frames", str(tmp_path / "none")])
    assert done.exit_code == 2
