"""Speed profiles of the bank: the web they are asked for, at the rates they are given."""

import numpy as np
import pytest

from regscan.simulator.bank.profiles import (
    Course,
    course_profile,
    random_course,
    slowest_rate,
    steady_course,
)

DOWN_UP = Course((150.0, 50.0, 150.0), (0.05, 0.1), (1.0, 2.0, 1.0))


def test_the_web_is_used_up_and_the_rates_are_kept():
    profile = course_profile(DOWN_UP, 600.0)
    assert profile.web_at(np.array([profile.duration_s]))[0] == pytest.approx(600.0)
    times, speeds = np.array(profile.times_s), np.array(profile.speeds_m_min)
    rates = np.diff(speeds) / 60.0 / np.diff(times)
    assert rates == pytest.approx([0.0, -0.05, 0.0, 0.1, 0.0], abs=1e-9)
    holds = np.diff(times)[::2]
    assert holds[1] == pytest.approx(2.0 * holds[0])
    assert slowest_rate(profile) == pytest.approx(0.05)


def test_ramps_get_steeper_where_they_would_take_more_than_half_of_the_web():
    profile = course_profile(DOWN_UP, 60.0)
    assert profile.web_at(np.array([profile.duration_s]))[0] == pytest.approx(60.0)
    web = profile.web_at(np.array(profile.times_s))
    assert web[2] - web[1] + web[4] - web[3] == pytest.approx(30.0)


def test_a_run_without_holds_is_all_ramps():
    profile = course_profile(Course((150.0, 50.0, 150.0), (0.05, 0.1), None), 600.0)
    assert len(profile.times_s) == 3
    assert profile.web_at(np.array([profile.duration_s]))[0] == pytest.approx(600.0)


@pytest.mark.parametrize("seed", range(30))
def test_courses_have_the_rates_that_are_asked_for(seed):
    rng = np.random.default_rng(seed)
    one = random_course(rng, two_rates=False, holds=True)
    two = random_course(rng, two_rates=True, holds=True)
    assert len(set(one.rates_m_s2)) == 1
    low, high = sorted(set(two.rates_m_s2))
    assert high / low >= 1.9
    assert course_profile(steady_course(rng), 100.0).speeds_m_min[0] >= 60.0
