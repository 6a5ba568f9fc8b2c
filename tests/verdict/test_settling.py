"""What has not settled is not corrected: it waits, and its end is told."""

import numpy as np
import pytest
from drift.presses import INKS, JOB, Made, make_table
from drift.profiles import Profile

from regscan.drift.describe import describe_run
from regscan.verdict.settling import settle

STEADY = Profile((0, 600), (120, 120))  # 1200 m at one speed


def settled(truth, seed, pitch_m=6.0, wander=0.5, last=None):
    table = make_table(Made(profile=STEADY, truth=truth, wander=wander, pitch_m=pitch_m), seed)
    return settle(table, describe_run(table, JOB), JOB, last)


def warming(size, seconds, final=0.0):
    return lambda t: (final + size * np.exp(-t / seconds), 0.0 * t)


def jump_at(when_s, before, after, settle_s=None):
    def of(t):
        decay = 0.0 if settle_s is None else np.exp(-np.maximum(t - when_s, 0.0) / settle_s)
        return np.where(t < when_s, before, after + (before - after) * decay), 0.0 * t

    return of


def level_of(result, ink="cyan"):
    (track,) = [t for t in result.drift.tracks if (t.ink, t.axis) == (ink, "circumferential")]
    return track.settled


def test_calm_runs_wait_for_nothing():
    waits = changed = 0
    for seed in range(16):
        table = make_table(Made(profile=STEADY, wander=0.6, pitch_m=12.0), seed)
        drift = describe_run(table, JOB)
        result = settle(table, drift, JOB)
        waits += len(result.waiting)
        for old, new in zip(drift.tracks, result.drift.tracks, strict=True):
            changed += old != new
            assert abs(old.settled.mean_mm - new.settled.mean_mm) < 0.02
    assert waits == 0  # of 128 station axes
    assert changed <= 2  # levels taken from part of a hold: no harm, but of no use either


@pytest.mark.parametrize(("size", "final"), [(0.3, 0.0), (-0.25, 0.1), (0.2, -0.2)])
def test_a_warm_up_waits_and_its_end_is_told(size, final):
    # A time constant of 300 s of which 600 s were seen: 13.5 % is left.
    pulls, waits = [], []
    for seed in range(12):
        wait = settled({"cyan": warming(size, 300.0, final)}, seed).waiting
        assert set(wait) == {("cyan", "circumferential")}
        one = wait["cyan", "circumferential"]
        if one.final_mm is not None:
            assert abs(one.final_mm - final) < 0.2 * abs(size)
            pulls.append((one.final_mm - final) / one.final_sd_mm)
            waits.append(one.wait_s)
            assert one.wait_m == pytest.approx(one.wait_s * 2.0, rel=0.05)
    assert len(pulls) >= 8
    assert np.sqrt(np.mean(np.square(pulls))) < 2.0
    # True: 300 s until the rest has shrunk to 0.01 mm; one fit knows it to a factor of two.
    true_s = 300 * np.log(abs(size) * np.exp(-2) / 0.01)
    assert 0.7 < np.median(waits) / true_s < 1.4


def test_a_drift_without_an_end_in_sight_names_no_end():
    wait = settled({"cyan": lambda t: (2e-4 * t, 0 * t)}, 1).waiting
    assert wait["cyan", "circumferential"].final_mm is None
    assert wait["cyan", "circumferential"].wait_m is None
    assert wait["cyan", "circumferential"].again_m > 400.0  # of 1200 m seen


def test_without_a_web_position_seconds_alone_are_said():
    table = make_table(Made(profile=STEADY, truth={"cyan": warming(0.3, 300.0)}, pitch_m=6.0), 3)
    table["web_m"] = table["speed_m_min"] = np.nan
    one = settle(table, describe_run(table, JOB), JOB).waiting["cyan", "circumferential"]
    assert one.wait_m is None
    assert f"wait about {one.wait_s:.0f} s: still changing" in one.words


def test_after_a_warm_up_only_the_settled_part_counts():
    result = settled({"cyan": warming(0.3, 40.0, 0.05)}, 3)
    assert not result.waiting
    level = level_of(result)
    assert abs(level.mean_mm - 0.05) < 4 * level.sd_mm
    assert level.sd_mm < 0.01


def test_a_jump_in_the_hold_leaves_the_level_after_it():
    result = settled({"cyan": jump_at(300.0, 0.0, 0.12)}, 5)
    assert not result.waiting
    assert abs(level_of(result).mean_mm - 0.12) < 0.01


def test_a_splice_transient_at_the_end_waits():
    # Jumps to 0.2 at 540 s and comes back with 60 s, of which 60 s were seen.
    def splice(t):
        return np.where(t < 540, 0.0, 0.2 * np.exp(-np.maximum(t - 540, 0) / 60.0)), 0.0 * t

    found = sum(
        ("cyan", "circumferential") in settled({"cyan": splice}, seed, pitch_m=2.0).waiting
        for seed in range(6)
    )
    assert found == 6


def test_short_holds_say_nothing():
    table = make_table(Made(profile=STEADY, truth={"cyan": warming(0.3, 300.0)}, pitch_m=150.0), 1)
    assert not settle(table, describe_run(table, JOB), JOB).waiting


def test_the_reference_never_waits():
    assert INKS[-1] == JOB.reference
    everyone = {ink: warming(0.3, 300.0) for ink in INKS[:-1]}
    assert {ink for ink, _ in settled(everyone, 2).waiting} == set(INKS[:-1])


@pytest.mark.parametrize("last", [1, 5, 20, 60])
def test_the_last_frames_of_an_unfinished_warm_up_wait_too(last):
    # The few frames alone lie level enough; those before them show that they do not.
    truth = {"cyan": warming(1.0, 200.0)}
    table = make_table(Made(profile=Profile((0, 300), (120, 120)), truth=truth, pitch_m=6.0), 4)
    result = settle(table, describe_run(table, JOB), JOB, last)
    assert set(result.waiting) == {("cyan", "circumferential")}


@pytest.mark.parametrize("last", [1, 4, 12, 30])
def test_the_last_frames_alone_are_the_level(last):
    # 0.2 mm up at 400 s, which is 100 frames before the end.
    result = settled({"cyan": jump_at(400.0, 0.0, 0.2)}, 6, pitch_m=4.0, last=last)
    assert not result.waiting
    level = level_of(result)
    assert level.frames == last
    assert abs(level.mean_mm - 0.2) < 4 * 0.008 / last**0.5 * 1.7 + 1e-9  # it wanders


def test_a_jump_three_frames_ago_waits_as_long_again():
    # At 588 of 600 s; a frame each 4 s.
    for seed in range(4):
        wait = settled({"cyan": jump_at(588.0, 0.0, 0.3)}, seed, pitch_m=8.0, last=8).waiting
        one = wait["cyan", "circumferential"]
        assert one.final_mm is None
        assert 4.0 <= one.again_s <= 24.0
        assert one.again_m == pytest.approx(2.0 * one.again_s)
        assert f"look again after about {one.again_m:.0f} m" in one.words


@pytest.mark.parametrize("last", [1, 3, 10])
def test_the_last_frames_of_a_ramp_are_no_level(last):
    # 60 s at 150 m/min, then falling: the last frames alone cannot show that.
    ramp = Profile((0, 60, 100), (150, 150, 50))
    truth = {"cyan": lambda t: (np.where(t < 60, 0.0, 0.004 * (t - 60)), 0 * t)}
    table = make_table(Made(profile=ramp, truth=truth, pitch_m=2.0), 1)
    drift = describe_run(table, JOB)
    assert level_of(settle(table, drift, JOB)) is not None  # the hold before it
    assert level_of(settle(table, drift, JOB, last)) is None


def test_one_frame_that_stands_off_from_those_before_it_waits():
    def bad_print(t):
        return np.where(t > 595.0, 0.2, 0.0), 0 * t  # the last frame alone

    for seed in range(4):
        result = settled({"cyan": bad_print}, seed, pitch_m=6.0, last=1)
        one = result.waiting["cyan", "circumferential"]
        assert one.final_mm is None
        assert one.again_m == pytest.approx(36.0, rel=0.1)  # six frames more


def test_calm_last_frames_seldom_wait():
    waits = 0
    for seed in range(16):
        table = make_table(Made(profile=STEADY, wander=0.6, pitch_m=12.0), seed)
        drift = describe_run(table, JOB)
        waits += sum(len(settle(table, drift, JOB, last).waiting) for last in (1, 3, 8))
    assert waits <= 4  # of 384 station axes
