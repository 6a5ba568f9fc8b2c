"""Web position is the integral of speed; what is not known stays unknown."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import cumulative_trapezoid, quad

from regscan.errors import BadSpeedLog
from regscan.recording.speedlog import SpeedLog, read_speed_log


def log_of(tmp_path, text):
    path = tmp_path / "speed_log.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_speed_log(path)


def problems_of(tmp_path, text):
    with pytest.raises(BadSpeedLog) as caught:
        log_of(tmp_path, text)
    return caught.value.problems


def test_a_ramp_from_150_to_50_in_20_s_takes_33_3_m(tmp_path):
    # trade.md 3.2: "Ramp of 100 m/min in 20 s: ... 33 m of web"; exactly 100/3 m.
    log = log_of(tmp_path, "time_s,speed_m_min\n0,150\n20,50\n")
    assert log.web_at(20.0) == pytest.approx(100.0 / 3.0, abs=1e-12)
    assert log.speed_at(10.0) == pytest.approx(100.0)
    # Half way in time 150 has fallen to 100: (150 + 100) / 2 m/min for 10 s.
    assert log.web_at(10.0) == pytest.approx(125.0 / 6.0, abs=1e-12)


def test_against_an_analytic_profile():
    # v(t) = 100 + 50 cos(w t) m/min, so s(t) = (100 t + 50 sin(w t) / w) / 60 m.
    w = 2 * math.pi / 40.0
    times = np.linspace(0.0, 100.0, 2001)
    log = SpeedLog.of(times, 100.0 + 50.0 * np.cos(w * times))
    asked = np.linspace(0.3, 99.7, 777)
    exact = (100.0 * asked + 50.0 * np.sin(w * asked) / w) / 60.0
    # Trapezoid rule: error below T h^2 max|v''| / 12 = 100 x 0.05^2 x 50 w^2 / 12 / 60 m.
    assert np.abs(log.web_at(asked) - exact).max() < 100 * 0.05**2 * 50 * w**2 / 12 / 60


steps = st.lists(st.tuples(st.floats(0.2, 1.0), st.floats(0, 300)), min_size=3, max_size=30)


@settings(max_examples=100, deadline=None)
@given(steps, st.floats(0, 1))
def test_against_scipys_integration(rows, share):
    times = np.cumsum([step for step, _ in rows])
    speeds = np.array([speed for _, speed in rows])
    log = SpeedLog.of(times, speeds)
    at_rows = cumulative_trapezoid(speeds / 60.0, times, initial=0.0)
    assert np.allclose(log.web_at(times), at_rows, atol=1e-9)
    time = float(times[0] + share * (times[-1] - times[0]))
    before = [t for t in times if t < time]
    pieces = [*before, time]
    whole = sum(
        quad(lambda t: np.interp(t, times, speeds) / 60.0, a, b)[0] for a, b in pairwise(pieces)
    )
    assert log.web_at(time) == pytest.approx(whole, abs=1e-9)


@settings(max_examples=100, deadline=None)
@given(steps)
def test_web_never_runs_backward(rows):
    times = np.cumsum([step for step, _ in rows])
    log = SpeedLog.of(times, np.array([speed for _, speed in rows]))
    web = log.web_at(np.linspace(times[0], times[-1], 100))
    assert (np.diff(web) >= -1e-12).all()


def test_outside_the_log_nothing_is_known():
    log = SpeedLog.of([10.0, 20.0], [60.0, 60.0])
    for time in (9.999, 20.001, -math.inf, math.inf, math.nan):
        assert math.isnan(log.web_at(time))
        assert math.isnan(log.speed_at(time))
    assert log.web_at(10.0) == 0.0
    assert log.web_at(20.0) == pytest.approx(10.0)


def test_a_gap_hides_the_speed_in_it_and_the_web_after_it():
    times = np.concatenate([np.arange(0, 10.1, 0.5), np.arange(20, 30.1, 0.5)])
    log = SpeedLog.of(times, np.full(len(times), 60.0))
    assert log.gaps == ((10.0, 20.0),)
    assert log.speed_at(10.0) == log.speed_at(20.0) == 60.0
    assert math.isnan(log.speed_at(15.0))
    assert log.web_at(10.0) == pytest.approx(10.0)
    assert np.isnan(log.web_at(np.array([10.001, 15.0, 20.0, 25.0]))).all()


def test_a_log_of_corners_only_has_no_gap():
    log = SpeedLog.of([0.0, 60.0, 80.0, 200.0, 220.0], [150.0, 150.0, 50.0, 50.0, 150.0])
    assert log.gaps == ()
    assert log.web_at(220.0) == pytest.approx((150 * 60 + 100 * 20 + 50 * 120 + 100 * 20) / 60)


def test_missed_beats_of_a_logger_are_no_gap():
    times = np.delete(np.arange(0, 30, 0.1), [50, 51, 52, 100])
    assert SpeedLog.of(times, np.full(len(times), 60.0)).gaps == ()


@pytest.mark.parametrize(
    ("rows", "place", "words"),
    [
        ("0,60\n2,60\n1,60", "line 4, time_s", "1 s lies before line 3 (2 s)"),
        ("0,60\n2,60\n2,70", "line 4, time_s", "2 s is the time of line 3"),
        ("0,60\nnan,60\n2,60", "line 3, time_s", "'nan' is not a finite number"),
        ("0,60\n1,inf\n2,60", "line 3, speed_m_min", "'inf' is not a finite number"),
        ("0,60\n1,fast\n2,60", "line 3, speed_m_min", "'fast' is not a number"),
        ("0,60\n1,\n2,60", "line 3, speed_m_min", "'' is not a number"),
        ("0,60\n1,-5\n2,60", "line 3, speed_m_min", "-5 m/min is no speed of a web"),
        ("0,60\n1,1_000\n2,60", "line 3, speed_m_min", "'1_000' is not a number"),
        ("0,60\n1,60,3\n2,60", "line 3", "has 3 fields, the header 2"),
        ("0,60", "", "has 1 row of values"),
        ("", "", "has 0 rows of values"),
    ],
)
def test_one_bad_row_is_named_by_its_line(tmp_path, rows, place, words):
    (problem,) = problems_of(tmp_path, f"time_s,speed_m_min\n{rows}\n")
    assert problem.place == place
    assert words in problem.what
    assert problem.cure


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        ("\n\n", "is empty"),
        ("0,60\n1,60\n", "is no header"),
        ("time,speed\n0,60\n", "has no column time_s"),
        ("time_s;speed_m_min\n0;60\n", "semicolons"),
        ("time_s,speed_m_min,time_s\n0,60,1\n", "two columns time_s"),
        (b"time_s,speed_m_min\n0,\xff\n", "not UTF-8"),
        ('time_s,speed_m_min\n"' + "x" * 200_000 + '",1\n', "not a CSV file"),
    ],
)
def test_files_that_are_no_speed_log(tmp_path, text, words):
    problems = problems_of(tmp_path, text)
    assert words in problems[0].what
    assert problems[0].cure


def test_a_misnamed_column_is_recognised(tmp_path):
    (problem,) = problems_of(tmp_path, "time_s,speed_m_mn\n0,60\n1,60\n")
    assert "'speed_m_mn'" in problem.cure


def test_ten_problems_are_shown_and_the_rest_counted(tmp_path):
    rows = "".join(f"{k},fast\n" for k in range(25))
    problems = problems_of(tmp_path, "time_s,speed_m_min\n" + rows)
    assert len(problems) == 11
    assert problems[-1].what == "and 15 more"


def test_other_columns_and_blank_lines_do_no_harm(tmp_path):
    log = log_of(tmp_path, "\ufefftime_s , note,speed_m_min\r\n\r\n0,,60\r\n60,x, 60 \r\n")
    assert log.web_at(60.0) == pytest.approx(60.0)
    assert log.path.endswith("speed_log.csv")


def test_a_log_that_is_not_there(tmp_path):
    with pytest.raises(BadSpeedLog, match="no such file"):
        read_speed_log(tmp_path / "speed_log.csv")
    with pytest.raises(BadSpeedLog, match="cannot be read"):
        read_speed_log(tmp_path)


@settings(max_examples=150, deadline=None)
@given(
    st.one_of(
        st.text(),
        st.binary(max_size=200),
        st.lists(st.text("0123456789.,-e\"';\n", max_size=12)).map(
            lambda rows: "time_s,speed_m_min\n" + "\n".join(rows)
        ),
    )
)
def test_any_text(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("log") / "speed_log.csv"
    path.write_bytes(data if isinstance(data, bytes) else data.encode("utf-8", "surrogatepass"))
    try:
        log = read_speed_log(path)
    except BadSpeedLog as bad:
        problems = bad.problems
    else:
        assert (np.diff(log.time_s) > 0).all()
        assert np.isfinite(log.speed_m_min).all()
        return
    assert problems
