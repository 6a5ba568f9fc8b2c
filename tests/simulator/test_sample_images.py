"""The samples are what truth.toml says they are: drawn again from their seed, they agree."""

import csv
import tomllib
from pathlib import Path

import cv2
import numpy as np
import pytest

from regscan.simulator.example import given
from regscan.simulator.scenario import Wish
from regscan.simulator.scenarios import SCENARIOS
from regscan.simulator.truth_table import truth_csv, truth_rows

SAMPLES = Path(__file__).parents[2] / "sample_images"
FOLDERS = sorted(path for path in SAMPLES.iterdir() if path.is_dir())


def drawn_again(folder):
    truth = tomllib.loads((folder / "truth.toml").read_text("utf-8"))
    words = truth["drawn_by"].split()
    options = dict(zip(words[2::2], words[3::2], strict=True))
    wish = Wish(
        int(options["--frames"]),
        int(options["--seed"]),
        float(options["--noise"]),
        options["--image"],
    )
    files = given(folder / "job.toml", folder / "camera.toml")
    return truth, SCENARIOS[options["--scenario"]](files.job, files.camera, wish)


def test_there_are_three_and_they_are_small():
    assert [folder.name for folder in FOLDERS] == ["calm", "first_print", "ramp"]
    size = sum(path.stat().st_size for path in SAMPLES.rglob("*") if path.is_file())
    assert size < 12_000_000


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.name)
def test_frames_are_those_their_seed_draws(folder):
    truth, scenario = drawn_again(folder)
    assert truth["frames"] == len(scenario.shots)
    for k in {0, len(scenario.shots) // 2, len(scenario.shots) - 1}:
        frame, _ = scenario.frame(k)
        stored = cv2.imread(str(folder / frame.info.name))[..., ::-1]
        assert stored.shape == frame.pixels.shape
        apart = np.abs(stored.astype(float) - frame.pixels)
        # JPEG at quality 95 moves a grey value by about one; PNG by none.
        assert apart.mean() < (0.02 if frame.info.name.endswith("png") else 1.5)


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.name)
def test_truth_csv_is_the_scenario_s(folder):
    _, scenario = drawn_again(folder)
    last = len(scenario.shots) - 1
    _, truth = scenario.frame(last)
    rows = truth_rows(scenario, scenario.shots[last], truth)
    expected = truth_csv(rows, scenario.clock).splitlines()[1:]
    stored = (folder / "truth.csv").read_text("utf-8").splitlines()[-len(expected) :]
    for own, theirs in zip(csv.reader(stored), csv.reader(expected), strict=True):
        assert [own[0], *own[4:8]] == [theirs[0], *theirs[4:8]]
        for one, other in zip(own[8:], theirs[8:], strict=True):
            assert (one == other == "") or float(one) == pytest.approx(float(other), abs=2e-4)


def test_the_ramp_s_faults_are_large_and_the_rest_is_well_inside():
    with (SAMPLES / "ramp" / "truth.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len({row["frame"] for row in rows}) >= 120
    worst = {}
    for row in rows:
        for axis in ("circumferential", "lateral"):
            key = row["ink"], axis
            worst[key] = max(worst.get(key, 0.0), abs(float(row[f"{axis}_mm"])))
    bad = {key for key, value in worst.items() if value > 0.1}
    assert bad == {("green", "circumferential"), ("cyan", "lateral")}
    assert max(value for key, value in worst.items() if key not in bad) < 0.05
    assert min(worst[key] for key in bad) > 0.12
