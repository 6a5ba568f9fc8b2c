"""Holds and ramps are found where the profile has its corners, whatever the log looks like."""

from itertools import pairwise

import numpy as np
import pytest

from drift.profiles import CORNERS_S, DOWN_UP, PHASES, Profile, frame_table, noisy_log
from regscan.drift.frames import list_frames
from regscan.drift.phases import find_segments
from regscan.recording.speedlog import SpeedLog

SEEDS = range(40)


def segments(table, log=None):
    return find_segments(list_frames(table, log), log)


def borders_s(found):
    return np.array([s.start_s for s in found[1:]])


def with_log(profile, log, pitch_m=1.0):
    t = profile.frames_every_m(pitch_m)
    return segments(frame_table(t, profile.web(t)), log)


def test_corners_in_a_noisy_log_are_found_within_a_second():
    # Noise 1 m/min, one sample in a hundred a spike of 60 m/min, one in ten lost.
    errors_s, errors_m = [], []
    for seed in SEEDS:
        found = with_log(DOWN_UP, noisy_log(DOWN_UP, seed))
        assert [s.phase for s in found] == PHASES
        errors_s.append(borders_s(found) - CORNERS_S)
        errors_m.append([s.start_m for s in found[1:]] - DOWN_UP.web(CORNERS_S))
    assert np.abs(errors_s).max() < 1.0
    assert np.abs(errors_m).max() < 1.5
    # Neither early nor late on the whole.
    assert np.abs(np.mean(errors_s, axis=0)).max() < 0.1


def test_without_a_log_the_frames_own_speeds_do():
    t = DOWN_UP.frames_every_m(3.0)
    for seed in SEEDS:
        noise = np.random.default_rng(seed).normal(0, 1.0, len(t))
        found = segments(frame_table(t, DOWN_UP.web(t), DOWN_UP.speed(t) + noise))
        assert [s.phase for s in found] == PHASES
        assert np.abs(borders_s(found) - CORNERS_S).max() < 2.0


def test_holds_carry_their_speed_and_ramps_both_ends():
    for seed in SEEDS:
        found = with_log(DOWN_UP, noisy_log(DOWN_UP, seed))
        ends = [(s.start_speed_m_min, s.end_speed_m_min) for s in found]
        truth = [(120, 120), (120, 20), (20, 20), (20, 120), (120, 120)]
        np.testing.assert_allclose(ends, truth, atol=2.0)


def test_every_frame_is_in_just_one_segment_and_borders_meet():
    found = with_log(DOWN_UP, noisy_log(DOWN_UP, 1))
    for before, after in pairwise(found):
        assert after.first_frame == before.last_frame + 1
        assert after.start_s == pytest.approx(before.end_s)
        assert after.start_m == pytest.approx(before.end_m)
    assert [s.number for s in found] == [1, 2, 3, 4, 5]


def test_a_calm_noisy_run_is_one_hold():
    # A wander of 1.5 m/min as drives have it, on top of the log's noise.
    t = np.arange(0.0, 600.0)
    for seed in SEEDS:
        rng = np.random.default_rng(seed)
        speed = 100 + 1.5 * np.sin(t / 40 + seed) + rng.normal(0, 1.0, len(t))
        found = segments(frame_table(t[::5], t[::5] * 100 / 60), SpeedLog.of(t, speed))
        assert [s.phase for s in found] == ["hold"]


def test_a_noiseless_log_with_rounded_corners():
    # Eased ramp: speed follows a half cosine, as servo lines shape it.
    t = np.arange(0.0, 300.0)
    eased = 60 + 40 * np.cos(np.pi * np.clip((t - 100) / 60, 0, 1))
    found = segments(frame_table(t, np.cumsum(eased) / 60), SpeedLog.of(t, eased))
    assert [s.phase for s in found] == ["hold", "slowing down", "hold"]
    # The first tenths of such a ramp cannot be told from the hold.
    np.testing.assert_allclose(borders_s(found), [100, 160], atol=8.0)


def test_standing_web():
    stop = Profile((0, 60, 70, 130, 140, 200), (80, 80, 0, 0, 80, 80))
    t = np.arange(0.0, 200.0)
    for seed in SEEDS:
        found = segments(frame_table(t, stop.web(t)), noisy_log(stop, seed))
        phases = [s.phase for s in found]
        assert phases == ["hold", "slowing down", "standing", "speeding up", "hold"]


def test_a_sudden_step_makes_two_holds():
    t = np.arange(0.0, 200.0)
    speed = np.where(t < 100, 100.0, 60.0)
    found = segments(frame_table(t, np.cumsum(speed) / 60), SpeedLog.of(t, speed))
    assert [s.phase for s in found] == ["hold", "hold"]
    assert borders_s(found)[0] == pytest.approx(99.5, abs=0.6)


def test_a_gap_in_the_log_is_unknown_never_bridged():
    log = noisy_log(DOWN_UP, 3)
    outside = (log.time_s < 130) | (log.time_s > 200)
    log = SpeedLog.of(log.time_s[outside], log.speed_m_min[outside])
    found = with_log(DOWN_UP, log)
    unknown = [s for s in found if s.phase == "unknown"]
    assert len(unknown) == 1
    assert unknown[0].start_s > 128
    assert unknown[0].end_s < 202
    assert unknown[0].start_speed_m_min is None


def test_a_log_that_misses_the_frames_is_not_used():
    t = DOWN_UP.frames_every_m(3.0)
    log = SpeedLog.of([5000.0, 5001.0, 5002.0], [10.0, 10.0, 10.0])
    found = segments(frame_table(t, DOWN_UP.web(t), DOWN_UP.speed(t)), log)
    assert [s.phase for s in found] == PHASES


def test_no_speed_at_all_is_one_unknown_segment():
    (found,) = segments(frame_table([None] * 5))
    assert (found.phase, found.first_frame, found.last_frame) == ("unknown", 0, 4)
    assert found.start_s is found.start_m is found.start_speed_m_min is None


def test_one_speed_without_clock_or_metres():
    (found,) = segments(frame_table([None] * 9, speed_m_min=[50.0] * 9))
    assert (found.phase, found.start_s, found.start_m) == ("hold", None, None)
    assert found.start_speed_m_min == pytest.approx(50.0)


def test_metres_without_a_clock():
    t = DOWN_UP.frames_every_m(3.0)
    found = segments(frame_table([None] * len(t), DOWN_UP.web(t), DOWN_UP.speed(t)))
    assert [s.phase for s in found] == PHASES
    metres = np.array([s.start_m for s in found[1:]])
    np.testing.assert_allclose(metres, DOWN_UP.web(CORNERS_S), atol=3.0)
    assert found[1].start_s is None


@pytest.mark.parametrize("count", [1, 2, 3])
def test_a_frame_or_two(count):
    t = np.arange(float(count))
    (found,) = segments(frame_table(t, t, np.full(count, 60.0)))
    assert found.phase == "hold"
    assert found.last_frame == count - 1
