"""Each value from the best source that knows it; what none knows stays None."""

import math
from dataclasses import replace

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from regscan.errors import BadFrames, BadSpeedLog
from regscan.recording.clock import Pitch, check_pitch, set_clock
from regscan.recording.frame import FrameInfo
from regscan.recording.speedlog import SpeedLog

RAMP = SpeedLog.of([0.0, 20.0], [150.0, 50.0], "speed_log.csv")


def frames(times=(None,) * 4, **columns):
    """One FrameInfo per time, with further columns given as tuples."""
    infos = [FrameInfo(f"{k}.png", k, time_s=time) for k, time in enumerate(times)]
    for name, values in columns.items():
        infos = [replace(i, **{name: v}) for i, v in zip(infos, values, strict=True)]
    return infos


def clocked(infos, log=None, **pitch):
    return set_clock(infos, log, Pitch(**pitch), "frames.csv")


def column(found, name):
    return [getattr(info, name) for info in found.infos]


def test_without_any_clock_nothing_is_made_up():
    found = clocked(frames())
    assert found.infos == tuple(frames())
    assert found.words == "time: not known; web: not known; speed: not known"
    assert found.notes == ()


def test_log_and_times_give_speed_and_web():
    found = clocked(frames((0.0, 10.0, 20.0)), RAMP)
    assert column(found, "speed_m_min") == [150.0, 100.0, 50.0]
    assert column(found, "web_m") == pytest.approx([0.0, 125 / 6, 100 / 3])
    assert "speed log integrated over time" in found.words


def test_a_pitch_in_time_works_with_the_log():
    found = clocked(frames(), RAMP, every_s=5.0)
    assert column(found, "time_s") == [0.0, 5.0, 10.0, 15.0]
    assert column(found, "speed_m_min") == [150.0, 125.0, 100.0, 75.0]


def test_a_pitch_in_metres():
    found = clocked(frames(), every_m=0.3048)
    assert column(found, "web_m") == pytest.approx([0.0, 0.3048, 0.6096, 0.9144])
    assert column(found, "time_s") == [None] * 4


def test_a_pitch_counts_the_frames_of_each_camera():
    found = clocked(frames(camera=("one", "two", "one", "two")), every_s=2.0)
    assert column(found, "time_s") == [0.0, 0.0, 2.0, 2.0]


def test_the_list_is_never_replaced():
    listed = frames((0.0, 10.0, 20.0), web_m=(7.0, None, 9.0), speed_m_min=(1.0, None, 3.0))
    found = clocked(listed, RAMP, every_s=1.0, every_m=1.0)
    assert column(found, "time_s") == [0.0, 10.0, 20.0]
    # A position counted from another start must not stand between these two.
    assert column(found, "web_m") == [7.0, None, 9.0]
    assert column(found, "speed_m_min") == [1.0, 100.0, 3.0]
    assert any("--every-s was not used" in note for note in found.notes)
    assert any("--every-m was not used" in note for note in found.notes)
    assert any("web position is not known for 1 of 3" in note for note in found.notes)


def test_listed_speeds_are_integrated_without_a_log():
    found = clocked(frames((0.0, 20.0), speed_m_min=(150.0, 50.0)))
    assert column(found, "web_m") == pytest.approx([0.0, 100 / 3])
    assert "speeds of frames.csv integrated over time" in found.words


def test_two_cameras_share_one_web():
    times, cameras = (0.0, 0.0, 1.0, 1.0), ("one", "two", "one", "two")
    found = clocked(frames(times, camera=cameras, speed_m_min=(60.0,) * 4))
    assert column(found, "web_m") == [0.0, 0.0, 1.0, 1.0]


def test_outside_the_log_and_after_a_gap_there_is_nothing():
    log = SpeedLog.of([0, 1, 2, 3, 4, 30, 31, 32], [60.0] * 8, "speed_log.csv")
    found = clocked(frames((-1.0, 2.0, 10.0, 31.0, 40.0)), log)
    assert column(found, "web_m") == [None, 2.0, None, None, None]
    assert column(found, "speed_m_min") == [None, 60.0, None, 60.0, None]
    assert found.notes == (
        "gaps in the speed log: 4 to 30 s; no speed is given inside a gap and no web position"
        " after it",
        "web position is not known for 4 of 5 frames",
        "speed is not known for 3 of 5 frames",
    )


def test_no_moment_in_common_is_refused():
    with pytest.raises(BadSpeedLog, match="covers 0 to 20 s, the frames 100 to 120 s"):
        clocked(frames((100.0, 120.0)), RAMP)


def test_a_log_without_times_of_frames_is_noted():
    found = clocked(frames(), RAMP)
    assert column(found, "speed_m_min") == [None] * 4
    assert "the frames have no times" in found.notes[0]


@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf])
def test_a_pitch_that_is_none(value):
    with pytest.raises(BadFrames, match="--every-s"):
        check_pitch(Pitch(every_s=value), "run")
    with pytest.raises(BadFrames, match="--every-m"):
        check_pitch(Pitch(every_m=value), "run")


maybe = st.one_of(st.none(), st.floats(0, 100))


@given(st.lists(st.tuples(st.one_of(st.none(), st.floats(0, 20)), maybe, maybe), min_size=1))
@example([(0.0, None, 0.0), (2.225073858507203e-309, None, 1.0)])
def test_given_values_survive_whatever_else_is_known(rows):
    infos = [FrameInfo(f"{k}.png", k, *row) for k, row in enumerate(rows)]
    for log in (None, RAMP):
        found = clocked(infos, log, every_s=0.1, every_m=0.1)
        for before, after in zip(infos, found.infos, strict=True):
            for name in ("time_s", "web_m", "speed_m_min"):
                known = getattr(before, name)
                assert known is None or getattr(after, name) == known
                assert getattr(after, name) is None or math.isfinite(getattr(after, name))
