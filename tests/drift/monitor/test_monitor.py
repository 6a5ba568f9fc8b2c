"""The monitor on runs of known truth: calm, shifting, leaving."""

from dataclasses import replace

import numpy as np
import pytest

from drift.presses import JOB, Made, make_job, make_table
from drift.profiles import Profile
from regscan.drift.frames import list_frames
from regscan.drift.monitor import Monitor, MonitorRules
from regscan.drift.monitor.replay import fed, replay
from regscan.job.job import CameraPost
from regscan.offsets.offset import Offset
from regscan.recording.frame import FrameInfo

STEADY = Profile((0.0, 1200.0), (120.0, 120.0))  # 2,400 m
RAMPED = Profile((0, 300, 320, 620, 640, 940), (120, 120, 40, 40, 120, 120))
# What a ramp to 40 m/min and back does to a colour that follows the speed: not a shift.
BY_SPEED = 0.0006


def alerts_of(table, job=JOB, rules=None):
    return replay(table, list_frames(table, None), job, rules)


def drifting(from_s, mm_per_s, ink="cyan"):
    return {ink: lambda s: (mm_per_s * np.maximum(s - from_s, 0.0), 0.0 * s)}


def stepping(at_s, mm, ink="cyan"):
    return {ink: lambda s: (np.where(s >= at_s, mm, 0.0), 0.0 * s)}


@pytest.mark.parametrize("wander", [0.0, 0.7])
def test_a_calm_run_raises_hardly_any_alarm(wander):
    """One in 10,000 frames is asked; these are 2,400, so three happen once in some 600 times."""
    alarms = []
    for seed in range(3):
        alarms += alerts_of(make_table(Made(STEADY, noise_mm=0.01, wander=wander), seed))
    assert len(alarms) <= 2


def test_a_camera_that_sees_the_reference_alone_says_nothing():
    """As the first of a camera behind every station does, the reference being printed first."""
    posts = (CameraPost("first", 1, 0.5), CameraPost("end", 5, 0.5))
    job = replace(make_job(cameras=posts), reference="white")
    first = make_table(Made(STEADY, camera="first"), 1, inks=("white",))
    assert not alerts_of(first, job)


def test_a_shift_is_found_where_it_is_and_by_how_much():
    made = Made(STEADY, noise_mm=0.006, wander=0.3, truth=stepping(600, 0.02))
    found = []
    for seed in range(2, 8):
        (alert,) = [a for a in alerts_of(make_table(made, seed)) if a.web_m > 1190.0]
        assert (alert.station, alert.ink, alert.axis) == (2, "cyan", "circumferential")
        assert alert.kind in ("ewma", "cusum")
        assert alert.web_m < 1240.0  # 600 s at 120 m/min, and the frames of the delay
        assert "has moved about 0.0" in alert.sentence
        assert "later" in alert.sentence
        found.append(alert)
    since = np.array([alert.since_m for alert in found])
    assert np.median(np.abs(since - 1200.0)) <= 6.0  # two frames
    assert np.mean([alert.moved_mm for alert in found]) == pytest.approx(0.02, abs=0.004)


def test_an_early_warning_comes_before_and_its_interval_holds():
    """0.1 mm at 0.0002 mm/s from 300 s on: out at 800 s, 1,600 m."""
    right, leads = 0, []
    for seed in range(4):
        table = make_table(Made(STEADY, truth=drifting(300, 0.0002), wander=0.3), seed)
        first = next(a for a in alerts_of(table) if a.kind == "early warning")
        lead = 1600.0 - first.web_m
        leads.append(lead)
        right += first.forecast.low <= lead <= (first.forecast.high or np.inf)
        assert first.ink == "cyan"
        assert "leaves tolerance in about" in first.sentence
        assert first.forecast.rate_mm == pytest.approx(0.0001, rel=0.5)
    assert min(leads) > 30.0
    assert right >= 3


def test_speed_changes_are_no_shifts():
    truth = {"cyan": lambda s: (BY_SPEED * RAMPED.speed(s), 0.0 * s)}
    alerts = alerts_of(make_table(Made(RAMPED, pitch_m=1.5, truth=truth, wander=0.3), 3))
    assert [a for a in alerts if a.kind != "early warning"] == []


def test_a_ramp_that_leads_out_is_told_while_it_lasts():
    truth = {"cyan": lambda s: (0.0015 * (120 - RAMPED.speed(s)), 0.0 * s)}
    alerts = alerts_of(make_table(Made(RAMPED, pitch_m=0.6, truth=truth, noise_mm=0.003), 1))
    first = next(a for a in alerts if a.kind == "early warning")
    # 0.1 mm at 53 m/min, 17 s into a ramp of 26 m.
    assert first.pace == "speed changes"
    assert 600.0 < first.web_m < 625.0
    assert "while the speed changes" in first.sentence


def test_nothing_of_later_frames_is_used():
    table = make_table(Made(STEADY, truth=stepping(600, 0.03)), 1)
    whole = alerts_of(table)
    cut = table[table["time_s"] < 700.0]
    assert alerts_of(cut) == tuple(a for a in whole if a.time_s < 700.0)


def test_single_lost_marks_are_no_shift():
    table = make_table(Made(STEADY), 2)
    rows = np.flatnonzero((table["ink"] == "cyan") & (table["time_s"] > 400))[::40]
    table["circumferential_mm"][rows] += 0.5
    assert alerts_of(table) == ()


def test_frames_without_clock_metres_or_speed_are_followed_too():
    table = make_table(Made(STEADY, truth=stepping(600, 0.03)), 1)
    for column in ("time_s", "web_m", "speed_m_min"):
        table[column] = np.nan
    (alert,) = alerts_of(table)
    assert alert.web_m is None
    assert alert.since_m is None
    assert alert.ink == "cyan"


def test_colours_seldom_or_never_seen_are_no_trouble():
    table = make_table(Made(STEADY), 1)
    table["status"][table["ink"] == "yellow"] = "missing"
    table["circumferential_mm"][table["ink"] == "yellow"] = np.nan
    some = (table["ink"] == "magenta") & (np.arange(len(table)) % 7 != 0)
    table["status"][some] = "doubtful"
    monitor = Monitor(JOB)
    for info, offsets in fed(table, list_frames(table, None)):
        assert monitor.feed(info, offsets) == ()
    by = {(c.ink, c.axis): c for c in monitor.now()}
    assert not by["yellow", "lateral"].learnt
    assert by["yellow", "lateral"].level_mm is None
    assert by["cyan", "lateral"].learnt
    assert by["cyan", "lateral"].noise_mm == pytest.approx(0.008, rel=0.2)
    assert ("black", "lateral") not in by  # the reference is what all are held against


def test_now_tells_levels_charts_and_forecast_frame_by_frame():
    table = make_table(Made(STEADY, truth=drifting(300, 0.0002), wander=0.3), 1)
    monitor = Monitor(JOB, MonitorRules(learn_frames=50))
    learnt_at = None
    for number, (info, offsets) in enumerate(fed(table, list_frames(table, None)), 1):
        monitor.feed(info, offsets)
        cyan = next(c for c in monitor.now() if (c.ink, c.axis) == ("cyan", "circumferential"))
        if cyan.learnt and learnt_at is None:
            learnt_at = number
        if info.web_m and 1500.0 < info.web_m < 1505.0:
            break
    assert 50 <= learnt_at < 55  # five frames tell that the speed holds
    assert cyan.pace == "steady"
    assert cyan.level_mm == pytest.approx(0.090, abs=4 * cyan.level_sd_mm)
    assert cyan.forecast
    assert cyan.forecast.low < 100.0 < (cyan.forecast.high or np.inf)
    assert cyan.ewma_limit > 0
    assert cyan.cusum_limit > 0


def test_two_edges_are_followed_apart():
    job = make_job()
    marks = tuple(replace(m, edge=e) for e in ("operator", "drive") for m in job.marks)
    job = replace(job, marks=marks)
    tables = [
        make_table(Made(STEADY, edge="operator", truth=stepping(600, 0.03)), 1),
        make_table(Made(STEADY, edge="drive"), 2),
    ]
    (alert,) = alerts_of(np.concatenate(tables), job)
    assert alert.edge == "operator"
    assert "(operator)" in alert.sentence


def test_an_empty_frame_changes_nothing():
    monitor = Monitor(JOB)
    assert monitor.feed(FrameInfo("one.png", 0), []) == ()
    assert monitor.feed(FrameInfo("two.png", 1), [Offset(2, "cyan", "", "missing")]) == ()
    assert all(not channel.learnt for channel in monitor.now())
