"""The doubt of a camera's calibration: whole in every level, in no change, and between cameras."""

from dataclasses import replace

import numpy as np
import pytest

from drift.presses import JOB, Made, make_table, track_of
from regscan.drift.describe import describe_run
from regscan.job.job import CameraPost

SD_MM = 0.006
OWN = {("", "", "cyan", "circumferential"): SD_MM}


def measured(camera="", seed=3, shift_mm=0.0):
    """A run's table, every frame's sd with the calibration's doubt in it."""
    table = make_table(Made(noise_mm=0.003), seed, inks=("cyan", "black"))
    of_cyan = table["ink"] == "cyan"
    sd = table["circumferential_sd_mm"]
    sd[of_cyan] = np.hypot(sd[of_cyan], SD_MM)
    table["circumferential_mm"][of_cyan] += shift_mm
    table["camera"] = camera
    return table


def plain_track():
    return track_of(
        describe_run(make_table(Made(noise_mm=0.003), 3, inks=("cyan", "black")), JOB), "cyan"
    )


def test_averaging_over_a_run_does_not_lessen_it():
    track = track_of(describe_run(measured(), JOB, None, OWN), "cyan")
    for without, level in zip(plain_track().levels, track.levels, strict=True):
        assert level.mean_mm == without.mean_mm
        assert level.sd_mm == pytest.approx(np.hypot(without.sd_mm, SD_MM), rel=1e-6)
        assert level.camera_sd_mm == SD_MM
    lateral = track_of(describe_run(measured(), JOB, None, OWN), "cyan", "lateral")
    assert all(level.camera_sd_mm == 0.0 for level in lateral.levels)


def test_a_change_from_hold_to_hold_does_not_hold_it():
    track = track_of(describe_run(measured(), JOB, None, OWN), "cyan")
    for without, change in zip(plain_track().changes, track.changes, strict=True):
        assert change.sd_mm == pytest.approx(without.sd_mm, rel=1e-6)


@pytest.mark.parametrize("sd_mm", [0.0, 0.02])
def test_two_cameras_disagree_only_beyond_their_calibrations(sd_mm):
    """20 um between two cameras: a disagreement when both are sure of themselves, none when
    each may be 20 um off."""
    last = JOB.press.stations[-1].number
    posts = (CameraPost("one", last, 0.0), CameraPost("two", last, 1.0))
    job = replace(JOB, press=replace(JOB.press, cameras=posts))
    table = np.concatenate([measured("one", 3), measured("two", 4, 0.02)])
    own = {(name, "", "cyan", "circumferential"): sd_mm for name in ("one", "two")}
    found = describe_run(table, job, None, own).disagreements
    (pair,) = [d for d in found if (d.ink, d.axis) == ("cyan", "circumferential")]
    assert pair.significant == (sd_mm == 0.0)
    assert pair.difference_mm == pytest.approx(0.02, abs=0.002)
