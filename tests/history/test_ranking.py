"""Who is named first, who is not named at all, and how often chance names anybody."""

from collections import defaultdict
from dataclasses import replace

import numpy as np
import pytest
from drift.profiles import DOWN_UP
from scipy import stats

from regscan.history.ranking import rank
from regscan.history.store import open_history, seconds
from regscan.history.trends import Point, points_of, trends_of
from tests.history.invented import COLOURS, kept, kept_run, readings


def history_of(path, runs):
    with open_history(path, create=True) as history:
        for run in runs:
            history.add(run)
        return trends_of(points_of(history.link, "Press 2"))


def ranked(path, runs):
    return rank(history_of(path, runs), "black")


def weekly(seed, runs, grown_per_run=None, colours=COLOURS, jobs=1):
    rng = np.random.default_rng(seed)
    for k in range(runs):
        grown = {key: k * size for key, size in (grown_per_run or {}).items()}
        job = k % jobs
        told = readings(rng, grown, colours, level=1.0 + job)
        yield kept(k, k, told, job=f"Job {job}")


PLAY_OF_3 = (3, "circumferential", "play")


@pytest.mark.parametrize("jobs", [1, 3])
def test_a_station_whose_play_grows_is_named_first(tmp_path, jobs):
    """0.03 mm more over half a year, scatter 0.003 mm: 30 % of the tolerance."""
    found = ranked(tmp_path / "h", weekly(1, 26, {PLAY_OF_3: 0.03 / 26}, jobs=jobs))
    first = found.looks[0]
    assert (first.station, first.ink) == (3, "magenta")
    assert first.share == pytest.approx(0.3, abs=0.08)
    (reason,) = first.reasons
    assert reason.trend.measure == "play"
    assert reason.trend.slope.low < 0.03 / 26 * 4.348 < reason.trend.slope.high
    assert "circumferential play grew" in reason.sentence
    assert "gear mesh" in reason.check
    assert len(found.looks) == 1


def test_it_is_named_nearly_always_and_always_first():
    named = 0
    for seed in range(40):
        found = rank(trends_of(series(seed, 20, {PLAY_OF_3: 0.015 / 20})), "black")
        if found.looks:
            named += found.looks[0].station == 3
    assert named >= 38


def test_the_larger_growth_stands_before_the_surer_one(tmp_path):
    grown = {PLAY_OF_3: 0.02 / 26, (1, "lateral", "warm-up"): 0.05 / 26}
    found = ranked(tmp_path / "h", weekly(4, 26, grown))
    assert [look.station for look in found.looks] == [1, 3]


def test_histories_without_change_name_anybody_at_most_at_the_stated_rate():
    """In 100 histories without change at most 5 name anybody, of 32 questions each."""
    histories, named, raw = 300, 0, []
    for history in range(histories):
        trends = trends_of(series(1000 + history, 12))
        assert len(trends) == 32
        named += any(trend.significant for trend in trends)
        raw += [trend.slope.p for trend in trends]
    assert named <= stats.binom.isf(0.001, histories, 0.05)
    assert named > 0  # the rate is a rate, not a wall
    assert 0.03 < np.mean(np.array(raw) < 0.05) < 0.055


def series(seed, runs, grown_per_run=None):
    """What points_of would give of weekly runs, without a file."""
    found = defaultdict(list)
    for number, run in enumerate(weekly(seed, runs, grown_per_run)):
        when_s = seconds(run.entry.made_at)
        for one in run.readings:
            found[one.station, one.axis, one.measure].append(
                Point(number, when_s, run.entry.job, "black", one.ink, one.value, one.sd, 0.10)
            )
    return found


def test_a_change_for_the_better_or_a_trifle_names_nobody(tmp_path):
    better = {(2, "circumferential", "speed term"): -0.018 / 26}  # from 0.02 toward 0
    trifle = {(1, "circumferential", "noise"): 0.0015 / 26}  # sure, but 3 % of the tolerance
    trends = history_of(tmp_path / "h", weekly(5, 26, better | trifle))
    sure = {(trend.station, trend.measure) for trend in trends if trend.significant}
    assert (2, "speed term") in sure
    assert rank(trends, "black").looks == ()


def test_a_speed_term_that_grows_early_grows(tmp_path):
    grown = {(2, "circumferential", "speed term"): -0.08 / 26}  # from +0.02 to -0.06
    (look,) = ranked(tmp_path / "h", weekly(6, 26, grown)).looks
    assert look.station == 2
    assert "grew from 0.02" in look.reasons[0].sentence
    assert "-" not in look.reasons[0].sentence.partition("(")[2].partition("a month")[0]


def test_what_was_not_found_is_smaller_than_what_was(tmp_path):
    """Play below what a run can show, then play that is seen: a change all the same."""
    runs = []
    for k, run in enumerate(weekly(7, 20)):
        told = tuple(
            replace(r, value=None if k < 12 else 0.02 + 0.001 * k, sd=None if k < 12 else 0.003)
            if (r.station, r.axis, r.measure) == PLAY_OF_3
            else r
            for r in run.readings
        )
        runs.append(replace(run, readings=told))
    (look,) = ranked(tmp_path / "h", runs).looks
    assert look.station == 3


def test_a_stair_names_the_station_it_begins_at(tmp_path):
    colours = (*COLOURS, "violet", "orange")
    rng = np.random.default_rng(9)
    runs = []
    for k in range(26):
        # All that is printed after a drum moves with it, a little more by chance further on.
        grown = {
            (station, "circumferential", "warm-up"): k * size / 26
            for station, size in ((4, 0.050), (5, 0.054), (6, 0.056))
        }
        runs.append(kept(k, k, readings(rng, grown, colours)))
    found = ranked(tmp_path / "h", runs)
    assert found.looks[0].station == 4
    assert {look.station for look in found.looks} == {4, 5, 6}
    assert "station 4 first" in found.looks[1].reasons[0].check


def test_all_stations_at_once_ask_for_the_reference_or_the_camera(tmp_path):
    grown = {(s, "circumferential", "noise"): 0.008 / 26 for s in (1, 2, 3, 4)}
    found = ranked(tmp_path / "h", weekly(10, 26, grown))
    assert len(found.looks) == 4
    (note,) = found.notes
    assert "reference (black)" in note
    assert "camera" in note


def test_few_runs_say_nothing(tmp_path):
    trends = history_of(tmp_path / "h", weekly(12, 5, {PLAY_OF_3: 0.02}))
    assert all(trend.slope is None for trend in trends)
    assert rank(trends, "black").questions == 0


def test_jobs_that_never_came_again_are_compared_only_when_asked(tmp_path):
    grown = {PLAY_OF_3: 0.04 / 20}
    runs = [
        replace(run, entry=replace(run.entry, job=run.entry.key)) for run in weekly(13, 20, grown)
    ]
    with open_history(tmp_path / "h", create=True) as history:
        for run in runs:
            history.add(run)
        found = points_of(history.link, "Press 2")
    assert all(trend.slope is None for trend in trends_of(found))
    assert rank(trends_of(found, across_jobs=True), "black").looks[0].station == 3


def test_from_tables_of_offsets_the_station_that_worsens_is_named_first(tmp_path):
    """Whole runs down to 50 m/min and up again; magenta's speed term grows, the rest is noise."""

    def runs():
        for week in range(12):
            per_m_min = 1e-4 + week * 5e-5  # 0.01 to 0.065 mm per 100 m/min

            def truth(t, k=per_m_min):
                return k * (DOWN_UP.speed(t) - 100.0), 0.0 * t

            yield kept_run(week, week, truth={"magenta": truth})

    trends = history_of(tmp_path / "h", runs())
    first = rank(trends, "black").looks[0]
    assert (first.station, first.ink) == (3, "magenta")
    reason = first.reasons[0]
    assert reason.trend.measure == "speed term"
    assert reason.trend.was == pytest.approx(0.010, abs=0.006)
    assert reason.trend.now == pytest.approx(0.065, abs=0.006)
    assert len(rank(trends, "black").looks) == 1
