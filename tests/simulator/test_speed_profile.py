"""Speed over time, metres by integration, and back."""

import numpy as np
import pytest

from regscan.simulator.speed import SpeedProfile, ramps, steady

PROFILE = ramps(150.0, 50.0, hold_s=60.0, ramp_s=25.0, times=2)


def test_a_ramp_run_holds_and_ramps_as_asked():
    assert PROFILE.duration_s == 5 * 60 + 4 * 25
    speeds = PROFILE.speed_at(np.array([30.0, 72.5, 100.0, 157.5, 200.0, 400.0]))
    assert speeds == pytest.approx([150, 100, 50, 100, 150, 150])


def test_web_is_the_integral_of_speed():
    time = np.linspace(0.0, PROFILE.duration_s, 400_001)
    speed = PROFILE.speed_at(time) / 60.0
    summed = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2 * np.diff(time))])
    np.testing.assert_allclose(PROFILE.web_at(time), summed, atol=1e-6)


def test_a_ramp_of_25_s_from_150_to_50_takes_41_67_m():
    start, end = PROFILE.web_at(np.array([60.0, 85.0]))
    assert end - start == pytest.approx(100.0 / 60.0 * 25.0)


def test_time_at_undoes_web_at_also_outside_the_run():
    time = np.linspace(-20.0, PROFILE.duration_s + 20.0, 997)
    np.testing.assert_allclose(PROFILE.time_at(PROFILE.web_at(time)), time, atol=1e-9)


def test_a_profile_may_start_late():
    late = SpeedProfile((10.0, 20.0), (60.0, 120.0))
    assert late.web_at(np.array([0.0, 10.0, 20.0])) == pytest.approx([0.0, 10.0, 25.0])
    assert late.time_at(np.array([-5.0, 5.0, 25.0])) == pytest.approx([-5.0, 5.0, 20.0])


def test_direction_is_that_of_the_last_change():
    times = np.array([30.0, 70.0, 100.0, 150.0, 200.0, 240.0, 390.0])
    assert PROFILE.direction_at(times).tolist() == [0, -1, -1, 1, 1, -1, 1]


def test_steady_has_no_direction():
    profile = steady(80.0, 30.0)
    assert profile.direction_at(np.array([-5.0, 10.0, 50.0])).tolist() == [0, 0, 0]
    assert profile.web_at(np.array([30.0])) == pytest.approx([40.0])


@pytest.mark.parametrize(
    ("times", "speeds"),
    [((), ()), ((0.0, 0.0), (1.0, 1.0)), ((0.0, 1.0), (1.0,)), ((0.0, 1.0), (0.0, 10.0))],
)
def test_a_profile_that_is_none_is_refused(times, speeds):
    with pytest.raises(ValueError, match="speed profile"):
        SpeedProfile(times, speeds)
