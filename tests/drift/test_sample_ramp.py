"""The sample ramp's truth, drawn by the simulator (which shares no code with this room),
read as a table measured elsewhere: no status, no doubt, positions only from the speed log."""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from drift.presses import track_of
from regscan.drift.describe import describe_run
from regscan.job.read import read_job
from regscan.offsets.table import read_offsets
from regscan.recording.speedlog import read_speed_log

RAMP = Path(__file__).parents[2] / "sample_images" / "ramp"


@pytest.fixture(scope="module")
def truth():
    return tomllib.loads((RAMP / "truth.toml").read_text())


@pytest.fixture(scope="module")
def drift():
    table = read_offsets(RAMP / "truth.csv")
    table["web_m"] = table["speed_m_min"] = np.nan
    # One micrometre of measuring noise on top of the press's own four.
    rng = np.random.default_rng(1)
    for column in ("circumferential_mm", "lateral_mm"):
        table[column] += rng.normal(0, 0.001, len(table)) * (table["ink"] != "black")
    job = read_job(RAMP / "job.toml")
    return describe_run(table, job, read_speed_log(RAMP / "speed_log.csv"))


def test_the_holds_are_found_within_a_second(drift, truth):
    holds = [s for s in drift.segments if s.phase == "hold"]
    assert len(holds) == len(truth["holds"])
    for found, true in zip(holds, truth["holds"], strict=True):
        assert found.start_speed_m_min == pytest.approx(true["speed_m_min"], abs=0.5)
        if found.first_frame:
            assert found.start_s == pytest.approx(true["from_s"], abs=1.0)


def test_every_level_lies_within_three_micrometres_of_what_was_injected(drift, truth):
    injected = [t for t in truth["injected"] if t["term"] in ("Constant", "BySpeed")]
    checked = 0
    for track in drift.tracks:
        terms = [t for t in injected if (t["ink"], t["axis"]) == (track.ink, track.axis)]
        for level in track.levels:
            true = sum(_at(term, level.speed_m_min) for term in terms)
            if (track.ink, track.axis, level.segment) == ("cyan", "lateral", 7):
                true += 0.135  # the injected step, which fills most of this hold
            assert level.mean_mm == pytest.approx(true, abs=truth["agree_mm"])
            checked += 1
    assert checked == 6 * 2 * 5


def _at(term, speed_m_min):
    if term["term"] == "Constant":
        return term["mm"]
    return term["mm_per_m_min"] * (speed_m_min - term["zero_at_m_min"])


def test_the_misbehaving_are_flagged_and_no_other(drift, truth):
    flagged = {(t.ink, t.axis) for t in drift.tracks if t.flagged}
    assert flagged == {(m["ink"], m["axis"]) for m in truth["misbehaves"]}


def test_they_left_and_came_back_at_the_true_frames(drift, truth):
    for true in truth["misbehaves"]:
        found = track_of(drift, true["ink"], true["axis"]).stretches
        assert len(found) == len(true["stretches"])
        for stretch, wanted in zip(found, true["stretches"], strict=True):
            ends = [int(name[:4]) for name in (stretch.from_frame, stretch.to_frame)]
            wanted_ends = [int(wanted[key][:4]) for key in ("from_frame", "to_frame")]
            # One frame off where noise decides on which side of the limit it lies.
            assert np.abs(np.subtract(ends, wanted_ends)).max() <= 1
            assert stretch.worst_mm == pytest.approx(wanted["worst_mm"], abs=0.004)


def test_it_left_tolerance_at_the_speed_that_was_injected(drift, truth):
    (slope,) = [t for t in truth["injected"] if t["term"] == "BySpeed"]
    level = next(
        t["mm"]
        for t in truth["injected"]
        if (t["ink"], t["axis"], t["term"]) == (slope["ink"], slope["axis"], "Constant")
    )
    leaves_at = slope["zero_at_m_min"] + (0.1 - level) / slope["mm_per_m_min"]
    for stretch in track_of(drift, slope["ink"], slope["axis"]).stretches:
        # The speed changes by 12 m/min from frame to frame in these ramps.
        assert stretch.left_at_speed_m_min == pytest.approx(leaves_at, abs=12.0)
        assert stretch.back_at_speed_m_min == pytest.approx(leaves_at, abs=12.0)
