"""What stations did, and that a frame shows what they did when they printed."""

import numpy as np
import pytest

from regscan.simulator.motion import Injected, Motion, printing_moments, true_offsets
from regscan.simulator.speed import SpeedProfile, ramps, steady
from regscan.simulator.terms import BySpeed, Constant, Drift, Jitter, Play, Step, WarmUp
from tests.simulator.drawn_job import job_of

JOB = job_of()
RAMP = ramps(150.0, 50.0, hold_s=60.0, ramp_s=20.0, times=1)


def values(term, web, *, speed=RAMP, station=6, axis="circumferential"):
    """The offsets of station 6, which lies at the camera (no lag), at these metres."""
    motion = Motion(speed, (Injected(station, axis, term),), seed=4)
    frames = true_offsets(JOB, motion, list(web))
    ink = JOB.press.stations[station - 1].ink
    return np.array([getattr(frame[ink], f"{axis}_mm") for frame in frames])


def web_of(*times_s):
    return RAMP.web_at(np.array(times_s))


def test_a_constant_is_constant_and_moves_nothing_else():
    motion = Motion(RAMP, (Injected(2, "lateral", Constant(0.07)),))
    for frame in true_offsets(JOB, motion, [0.0, 100.0]):
        assert frame["magenta"] == (0.0, 0.07)
        assert {ink for ink, offset in frame.items() if offset != (0.0, 0.0)} == {"magenta"}


def test_by_speed_is_zero_where_it_should_be_and_grows_with_its_slope():
    term = BySpeed(-0.0013, 150.0)
    assert values(term, web_of(30.0, 70.0, 100.0)) == pytest.approx([0.0, 0.065, 0.13])


def test_a_step_stays_or_goes_back():
    assert values(Step(0.1, 50.0), [49.9, 50.0, 200.0]) == pytest.approx([0.0, 0.1, 0.1])
    assert values(Step(0.1, 50.0, 60.0), [49.9, 55.0, 60.0]) == pytest.approx([0.0, 0.1, 0.0])


def test_warm_up_is_an_exponential_in_seconds():
    # 1 - 1/e after one time constant, at any speed; nothing before the start.
    reached = values(WarmUp(0.09, 100.0), [-5.0, *web_of(100.0)])
    assert reached == pytest.approx([0.0, 0.09 * (1 - np.exp(-1))])


def test_drift_goes_with_metres():
    assert values(Drift(0.0002), [0.0, 150.0]) == pytest.approx([0.0, 0.03])


def test_play_takes_two_levels_by_the_direction_of_the_last_ramp():
    levels = values(Play(0.05), web_of(30.0, 70.0, 120.0, 150.0, 200.0))
    assert levels == pytest.approx([-0.025, 0.025, 0.025, -0.025, -0.025])


def test_jitter_scatters_by_its_sd_and_is_seeded():
    web = np.arange(4000) * 0.3048
    first = values(Jitter(0.004), web, speed=steady(100.0, 60.0))
    assert first.std() == pytest.approx(0.004, rel=0.05)
    assert abs(np.corrcoef(first[1:], first[:-1])[0, 1]) < 0.06
    np.testing.assert_array_equal(first, values(Jitter(0.004), web, speed=steady(100.0, 60.0)))


def test_terms_add_up():
    motion = Motion(
        RAMP,
        (
            Injected(3, "circumferential", Constant(0.02)),
            Injected(3, "circumferential", Step(0.1, 10.0)),
        ),
    )
    (frame,) = true_offsets(JOB, motion, [100.0])
    assert frame["cyan"].circumferential_mm == pytest.approx(0.12)


def test_a_mark_is_as_old_as_its_path_to_the_camera():
    # Six stations 1 m apart, camera at the last: station 1's mark is 5 m older than the frame.
    steps = {
        station: values(Step(1.0, 50.0), [50.0, 53.0, 55.0], station=station)
        for station in (1, 3, 6)
    }
    assert steps[6].tolist() == [1.0, 1.0, 1.0]
    assert steps[3].tolist() == [0.0, 1.0, 1.0]
    assert steps[1].tolist() == [0.0, 0.0, 1.0]


def test_the_speed_that_counts_is_the_speed_at_printing():
    # 120 -> 60 m/min in 10 s: 15 m of web. From v^2 = v0^2 + 2 a x, 5 m before the end of
    # the ramp the speed was sqrt(1 + 2 * 0.1 * 5) m/s.
    down = SpeedProfile((0.0, 10.0, 20.0), (120.0, 60.0, 60.0))
    moments = printing_moments(JOB, down, 1, np.array([15.0]))
    assert moments.speed_m_min[0] == pytest.approx(60.0 * np.sqrt(2.0))
    assert printing_moments(JOB, down, 6, np.array([15.0])).speed_m_min[0] == pytest.approx(60.0)
