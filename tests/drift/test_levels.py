"""Levels per hold: which frames count, and what the level says of itself."""

import numpy as np
import pytest

from drift.presses import JOB, Made, make_job, make_table, track_of
from drift.profiles import DOWN_UP, frame_table
from regscan.drift.describe import describe_run


def cyan_of(table, job=JOB):
    return track_of(describe_run(table, job), "cyan")


def by_speed(t):
    """Late by 1 um for each m/min below 120."""
    return 0.001 * (120.0 - DOWN_UP.speed(t)), 0.0 * t


def lagging(t):
    """The same, as the camera sees it: printed 3 m of web before (stations 2 to 5)."""
    fine = np.linspace(0, DOWN_UP.time_s[-1], 40001)
    when = np.interp(DOWN_UP.web(t) - 3.0, DOWN_UP.web(fine), fine)
    return by_speed(when)


def test_levels_of_all_holds_lie_within_their_doubt():
    pulls = []
    for seed in range(80):
        made = Made(truth={"cyan": lagging}, wander=0.4, pitch_m=2.0)
        table = make_table(made, seed, inks=("cyan", "black"))
        track = cyan_of(table)
        assert [level.segment for level in track.levels] == [1, 3, 5]
        pulls.append(
            [(v.mean_mm - t) / v.sd_mm for v, t in zip(track.levels, [0.0, 0.1, 0.0], strict=True)]
        )
    assert 0.85 < np.std(pulls) < 1.15
    assert abs(np.mean(pulls)) < 0.25


def test_marks_printed_before_the_hold_are_kept_out_of_its_level():
    # Web between the last station and the camera was printed on the ramp. On a path of
    # 9 m (trade.md 4) those frames would pull the level of a short hold.
    job = make_job(path_m=2.0)
    long_lag = Made(
        noise_mm=0.0,
        pitch_m=1.0,
        truth={"cyan": lambda t: by_speed(_printed(t, 6.0))},
    )
    track = cyan_of(make_table(long_lag, 0), job)
    assert [v.mean_mm for v in track.levels] == pytest.approx([0.0, 0.1, 0.0], abs=1e-4)


def _printed(t, path_m):
    fine = np.linspace(0, DOWN_UP.time_s[-1], 40001)
    return np.interp(DOWN_UP.web(t) - path_m, DOWN_UP.web(fine), fine)


def test_a_hold_shorter_than_the_path_has_no_level_and_the_notes_say_so():
    job = make_job(path_m=20.0)  # 60 m from cyan to the camera, the slow hold is 40 m
    drift = describe_run(make_table(Made(), 0), job)
    assert [v.segment for v in track_of(drift, "cyan").levels] == [1, 5]
    assert any("segment 3" in note and "cyan" in note for note in drift.notes)


def test_the_last_hold_is_the_settled_one():
    track = cyan_of(make_table(Made(), 0))
    assert track.settled == track.levels[-1]
    assert track.settled.speed_m_min == pytest.approx(120, abs=1)


def still(values, **more):
    """Still frames: no clock, no speed."""
    table = frame_table([None] * len(values), **more)
    table["circumferential_mm"] = values
    return table


def test_still_frames_have_one_level():
    track = cyan_of(still([0.05, 0.06, 0.055, 0.045], circumferential_sd_mm=0.001))
    assert track.settled.mean_mm == pytest.approx(0.0525, abs=0.001)
    assert (track.settled.frames, track.settled.segment) == (4, 1)
    assert track.settled.speed_m_min is None


def test_one_frame_has_its_measured_doubt_and_no_spread():
    level = cyan_of(still([0.05], circumferential_sd_mm=0.002)).settled
    assert (level.mean_mm, level.sd_mm, level.spread_mm) == (0.05, 0.002, None)


def test_one_frame_without_a_doubt_claims_none():
    assert cyan_of(still([0.05])).settled.sd_mm is None


def test_frames_that_agree_by_chance_are_no_better_than_each_was_measured():
    level = cyan_of(still([0.05] * 4, circumferential_sd_mm=0.002)).settled
    assert level.sd_mm == pytest.approx(0.001)


def test_doubtful_frames_count_only_where_there_is_no_good_one():
    table = still([0.05, 0.05, 0.9, 0.05])
    table["status"][2] = "doubtful"
    level = cyan_of(table).settled
    assert (level.frames, level.doubtful) == (3, False)
    assert level.mean_mm == pytest.approx(0.05)
    table["status"] = "doubtful"
    level = cyan_of(table).settled
    assert (level.frames, level.doubtful) == (4, True)


def test_a_colour_never_found_has_no_level_and_is_flagged():
    table = still([np.nan] * 4, status="missing")
    track = cyan_of(table)
    assert track.settled is None
    assert track.frames_missing == 4
    assert track.reasons == ("was not found in any frame",)


def test_a_run_that_only_ramps_has_no_level():
    t = np.arange(0.0, 20.0)
    speed = 100.0 - 4.0 * t
    table = frame_table(t, np.cumsum(speed) / 60, speed)
    drift = describe_run(table, JOB)
    assert [s.phase for s in drift.segments] == ["slowing down"]
    assert track_of(drift, "cyan").settled is None


def test_a_hold_of_few_frames_leans_on_the_others_for_its_spread():
    # Two frames that agree by chance must not claim a level known to nothing.
    doubts = []
    for seed in range(12):
        table = make_table(Made(), seed)
        slow = (table["speed_m_min"] < 21) & (table["ink"] == "cyan")
        lose = np.flatnonzero(slow)[:-2]
        table["status"][lose] = "missing"
        table["circumferential_mm"][lose] = np.nan
        level = next(v for v in cyan_of(table).levels if v.segment == 3)
        assert level.frames == 2
        doubts.append(level.sd_mm)
    assert min(doubts) > 0.003  # 8 um over root two is 5.7 um
