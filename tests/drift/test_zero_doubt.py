"""The doubt of the approved zero: in every level whole, in no difference of two levels."""

from dataclasses import replace

import numpy as np
import pytest

from drift.presses import JOB, Made, make_table, track_of
from regscan.drift.describe import describe_run
from regscan.job.layout import Approved
from regscan.verdict.cases import make_case

ZERO_SD_MM = 0.004


def approved_job(sd_mm=ZERO_SD_MM):
    marks = tuple(replace(m, approved=Approved(0.02, 0.01, sd_mm, 0.0)) for m in JOB.marks)
    # The reference's own place is sure, so that the zero's doubt is the colour's alone.
    marks = tuple(
        replace(m, approved=Approved(0.0, 0.0)) if m.ink == JOB.reference else m for m in marks
    )
    return replace(JOB, marks=marks, zero="approved")


def measured(seed=3):
    """A run and its table, every frame's sd with the zero's doubt in it."""
    table = make_table(Made(noise_mm=0.003), seed, inks=("cyan", "black"))
    of_cyan = table["ink"] == "cyan"
    sd = table["circumferential_sd_mm"]
    sd[of_cyan] = np.hypot(sd[of_cyan], ZERO_SD_MM)
    return table


def test_averaging_over_a_run_does_not_lessen_the_zeros_doubt():
    plain = track_of(
        describe_run(make_table(Made(noise_mm=0.003), 3, inks=("cyan", "black")), JOB), "cyan"
    )
    track = track_of(describe_run(measured(), approved_job()), "cyan")
    for without, level in zip(plain.levels, track.levels, strict=True):
        assert level.mean_mm == without.mean_mm
        assert level.sd_mm == pytest.approx(np.hypot(without.sd_mm, ZERO_SD_MM), rel=1e-6)
        assert level.sd_mm > ZERO_SD_MM
    lateral = track_of(describe_run(measured(), approved_job()), "cyan", "lateral")
    assert all(level.zero_sd_mm == 0.0 for level in lateral.levels)


def test_a_change_from_hold_to_hold_does_not_hold_it():
    plain = track_of(
        describe_run(make_table(Made(noise_mm=0.003), 3, inks=("cyan", "black")), JOB), "cyan"
    )
    track = track_of(describe_run(measured(), approved_job()), "cyan")
    for without, change in zip(plain.changes, track.changes, strict=True):
        assert change.sd_mm == pytest.approx(without.sd_mm, rel=1e-6)


def test_the_gate_counts_it():
    track = track_of(describe_run(measured(), approved_job()), "cyan")
    case = make_case(track, approved_job().gate)
    assert case.sd_mm > ZERO_SD_MM
    assert case.answer == "in register"
    # A zero known to 0.1 mm cannot prove anything against a tolerance of 0.1 mm.
    unsure = track_of(describe_run(measured(), approved_job(0.1)), "cyan")
    assert make_case(unsure, approved_job().gate).answer == "cannot be decided"


def test_the_reference_has_no_doubt_against_itself():
    black = track_of(describe_run(measured(), approved_job()), "black")
    assert all(level.zero_sd_mm == 0.0 for level in black.levels)
