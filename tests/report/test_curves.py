"""Charts: thinning keeps the extremes, gaps stay gaps, and the axis is one that is known."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from regscan.report.along import along_the_run
from regscan.report.curves import POINTS, chart_facts, thinned
from tests.report.invented import invented_run


def test_a_short_curve_is_drawn_whole():
    assert thinned(np.arange(10.0), np.zeros(10, bool), 10).tolist() == list(range(10))


@given(st.integers(0, 2**32 - 1), st.integers(200, 3000))
def test_thinning_keeps_both_extremes_ends_and_order(seed, count):
    rng = np.random.default_rng(seed)
    values = rng.normal(0, 1, count)
    values[rng.random(count) < 0.1] = np.nan
    values[rng.integers(count)] = 9.0
    values[rng.integers(count)] = -9.0
    kept = thinned(values, rng.random(count) < 0.05, 100)
    assert np.all(np.diff(kept) > 0)
    assert kept[0] == 0
    assert kept[-1] == count - 1
    assert np.nanmax(values[kept]) == np.nanmax(values)
    assert np.nanmin(values[kept]) == np.nanmin(values)


def test_a_doubtful_spike_does_not_push_out_the_good_extreme_beside_it():
    values, doubtful = np.zeros(1000), np.zeros(1000, bool)
    values[500], values[501], doubtful[501] = 1.0, 5.0, True
    kept = set(thinned(values, doubtful, 100).tolist())
    assert {500, 501} <= kept


def test_a_long_gap_is_still_a_gap_after_thinning():
    values = np.zeros(1000)
    values[300:500] = np.nan
    kept = thinned(values, np.zeros(1000, bool), 100)
    assert np.isnan(values[kept]).any()


def test_thinned_charts_say_so(invented):
    run, offsets, _ = invented
    assert chart_facts(run, offsets, along_the_run(offsets))["thinned"] is False
    many = np.concatenate([offsets] * 30)
    many["frame"] = np.repeat([f"{k:05d}.png" for k in range(len(many) // 5)], 5)
    many["web_m"] = many["time_s"] = np.repeat(np.arange(len(many) // 5), 5)
    charts = chart_facts(run, many, along_the_run(many))
    assert charts["thinned"] is True
    # The good points' extremes make POINTS; doubtful ones and the two ends come on top.
    for curve in charts["curves"]:
        assert len(curve["x"]) - curve["status"].count("d") <= POINTS + 2
    for curve in charts["curves"]:
        mine = many[(many["ink"] == curve["ink"]) & (many["status"] == "ok")]
        drawn = [y for y in curve["y"] if y is not None]
        assert max(drawn) >= mine[f"{curve['axis']}_mm"].max() - 5e-5


@pytest.mark.parametrize(
    ("known", "name"),
    [
        ({"with_web": True, "with_time": True}, "web_m"),
        ({"with_web": False, "with_time": True}, "time_s"),
        ({"with_web": False, "with_time": False}, "number"),
    ],
)
def test_axis_is_the_first_one_known_for_every_frame(known, name):
    run, offsets, _ = invented_run(**known)
    along = along_the_run(offsets)
    assert along.name == name
    assert bool(along.why) is (name != "web_m")
    charts = chart_facts(run, offsets, along)
    assert len(charts["curves"][0]["x"]) == 120
    assert None not in charts["curves"][0]["x"]


def test_one_frame_without_web_position_changes_the_axis_and_is_told(invented):
    offsets = invented[1].copy()
    offsets["web_m"][offsets["frame"] == "0007.png"] = np.nan
    along = along_the_run(offsets)
    assert along.name == "time_s"
    assert "1 of 120 frames" in along.why


def test_curve_reads_back_the_table(facts, invented):
    offsets = invented[1]
    curve = next(
        c for c in facts["charts"]["curves"] if (c["ink"], c["axis"]) == ("cyan", "circumferential")
    )
    mine = offsets[offsets["ink"] == "cyan"]
    np.testing.assert_allclose(curve["y"], mine["circumferential_mm"], atol=5e-5)
    np.testing.assert_allclose(curve["x"], mine["web_m"], atol=5e-4)


def test_missing_points_are_empty_and_doubtful_ones_marked(facts):
    white = next(c for c in facts["charts"]["curves"] if c["ink"] == "white")
    assert [k for k, y in enumerate(white["y"]) if y is None] == [60, 61, 62]
    assert white["status"][60:63] == "mmm"
    yellow = next(c for c in facts["charts"]["curves"] if c["ink"] == "yellow")
    assert yellow["status"].count("d") == 1


def test_a_doubtful_spike_does_not_stretch_the_scale(facts):
    half = facts["charts"]["range_mm"]["circumferential"]
    good = max(
        abs(y)
        for c in facts["charts"]["curves"]
        if c["axis"] == "circumferential"
        for y, s in zip(c["y"], c["status"], strict=True)
        if s == "o"
    )
    assert half == pytest.approx(max(1.08 * good, 1.3 * 0.20))


def test_level_lines_lie_over_their_own_hold(facts, invented):
    run = invented[0]
    segments = {s.number: s for s in run.drift.segments}
    for curve, track in zip(facts["charts"]["curves"], run.drift.tracks, strict=True):
        assert len(curve["levels"]) == len(track.levels) == 3
        for drawn, level in zip(curve["levels"], track.levels, strict=True):
            segment = segments[level.segment]
            assert (drawn["from"], drawn["to"]) == (segment.start_m, segment.end_m)
            assert drawn["mean_mm"] == level.mean_mm
