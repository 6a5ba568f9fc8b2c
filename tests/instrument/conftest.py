"""Frames of a dot grid through a lens that bends and parts colours, drawn once."""

from dataclasses import replace
from pathlib import Path

import pytest

from tests.instrument.drawn_grids import DOTS, calibrated, draw


@pytest.fixture(scope="session")
def grid_files(tmp_path_factory) -> dict[str, Path]:
    """Two frames to fit and one to check, colour, 480 x 640."""
    folder = tmp_path_factory.mktemp("grids")
    turned = replace(DOTS, turn_deg=11.0)
    return {
        "first": draw(folder, "first.png", seed=1),
        "second": draw(folder, "second.png", turned, seed=2, origin_px=(200.0, 350.0)),
        "check": draw(folder, "check.png", replace(DOTS, turn_deg=-7.0), seed=3),
    }


@pytest.fixture(scope="session")
def calibration(grid_files):
    """What they give."""
    paths = [grid_files["first"], grid_files["second"]]
    return calibrated(paths, checks=(grid_files["check"],))
