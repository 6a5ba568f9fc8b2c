"""Walks sample_images: what was drawn is what is measured, and only what misbehaves is flagged.

The truth files are the simulator's, which shares no code with measuring.
"""

import csv
import statistics
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest
from typer.testing import CliRunner

from regscan.cli.app import app
from regscan.run import Run, load_run

SAMPLES = Path(__file__).parent.parent / "sample_images"
FOLDERS = sorted(path.parent for path in SAMPLES.glob("*/truth.toml"))
LEVEL_MM = 0.003  # hold levels against truth: a few hundredths of any tolerance
FRAME_MM = 0.010  # a single frame: print roughness and noise are in it


@dataclass(frozen=True)
class Sample:
    """truth: truth.toml; drawn: (frame, ink) -> its row of truth.csv, in order of the run."""

    folder: Path
    truth: dict
    drawn: dict
    run: Run
    out: Path

    @property
    def frames(self):
        return list(dict.fromkeys(frame for frame, _ in self.drawn))

    def injected(self):
        return {(one["ink"], one["axis"]) for one in self.truth.get("injected", []) if one["fault"]}

    def level_mm(self, hold, ink, axis):
        """What most frames of a hold of the truth were drawn with: cyan steps early in one."""
        names = self.frames
        first, last = names.index(hold["from_frame"]), names.index(hold["to_frame"])
        values = [float(self.drawn[name, ink][f"{axis}_mm"]) for name in names[first : last + 1]]
        return statistics.median(values)


@pytest.fixture(scope="module")
def measured(tmp_path_factory):
    @cache
    def of(folder: Path) -> Sample:
        out = tmp_path_factory.mktemp(folder.name) / "out"
        done = CliRunner().invoke(app, ["ramp", str(folder), "--out", str(out), "--no-overlays"])
        assert done.exit_code == 0, done.output
        with (folder / "truth.csv").open(newline="", encoding="utf-8") as file:
            drawn = {(row["frame"], row["ink"]): row for row in csv.DictReader(file)}
        truth = tomllib.loads((folder / "truth.toml").read_text(encoding="utf-8"))
        return Sample(folder, truth, drawn, load_run(out / "run.json"), out)

    return of


def rows_of(path: Path):
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_there_are_samples_and_they_are_small():
    assert {path.name for path in FOLDERS} >= {"ramp", "calm"}
    size = sum(path.stat().st_size for path in SAMPLES.rglob("*") if path.is_file())
    assert size < 15_000_000


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda path: path.name)
def test_every_colour_of_every_frame_is_measured_as_drawn(folder, measured):
    sample = measured(folder)
    seen = 0
    for row in rows_of(sample.out / "offsets.csv"):
        if row["status"] == "ok":
            drawn = sample.drawn[row["frame"], row["ink"]]
            for axis in ("circumferential_mm", "lateral_mm"):
                assert float(row[axis]) == pytest.approx(float(drawn[axis]), abs=FRAME_MM), row
            seen += 1
    assert seen >= 0.99 * len(sample.drawn)


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda path: path.name)
def test_flagged_are_the_injected_and_no_others(folder, measured):
    sample = measured(folder)
    flagged = {(track.ink, track.axis) for track in sample.run.drift.tracks if track.flagged}
    if len(sample.frames) > 1:  # a single first print has no behaviour to flag
        assert flagged == sample.injected()


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda path: path.name)
def test_levels_of_holds_are_those_drawn(folder, measured):
    sample = measured(folder)
    names = sample.frames
    holds = [s for s in sample.run.drift.segments if s.phase == "hold"]
    assert len(holds) == len(sample.truth.get("holds", [])) or len(names) == 1
    for segment, hold in zip(holds, sample.truth.get("holds", []), strict=len(names) > 1):
        for track in sample.run.drift.tracks:
            level = next(one for one in track.levels if one.segment == segment.number)
            drawn = sample.level_mm(hold, track.ink, track.axis)
            assert level.mean_mm == pytest.approx(drawn, abs=LEVEL_MM), (track.ink, track.axis)


def test_the_ramp_sample_is_what_the_issue_asks_for(measured):
    sample = measured(SAMPLES / "ramp")
    assert len(sample.frames) >= 120
    assert len(sample.run.job.press.stations) >= 6
    phases = [segment.phase for segment in sample.run.drift.segments]
    assert phases.count("slowing down") == phases.count("speeding up") == 2
    assert sample.injected()
    assert sample.run.verdict.answer == "out of tolerance"


def test_the_calm_sample_passes(measured):
    assert measured(SAMPLES / "calm").run.verdict.answer == "in register"
