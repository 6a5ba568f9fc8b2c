"""Offset over speed: each ramp apart, at the speed of printing, with the extremes kept."""

from dataclasses import replace

import numpy as np
import pytest

from regscan.job.job import CameraPost
from regscan.report.along import along_the_run
from regscan.report.loops import loop
from regscan.report.speeds import BINS, speed_facts
from regscan.report.views import measured_tracks


def of(run, offsets, ink, axis="circumferential"):
    charts = speed_facts(run, offsets, along_the_run(offsets).frames)
    for track, chart in zip(measured_tracks(run), charts, strict=True):
        if (track.ink, track.axis) == (ink, axis):
            return chart
    raise AssertionError(ink)


def speed_at(bins, offset_mm):
    """The speed at which a ramp's falling offset passes a value."""
    falling = sorted(bins, key=lambda one: one["mid"])
    return np.interp(offset_mm, [b["mid"] for b in falling], [b["v"] for b in falling])


def at_station(run, number):
    """The run with its camera right after that station, so that nothing is old when seen."""
    press = replace(run.job.press, cameras=(CameraPost("", number, 0.0),))
    return replace(run, job=replace(run.job, press=press))


def test_both_ramps_are_there_and_told_apart(invented):
    run, offsets, _ = invented
    chart = of(run, offsets, "cyan")
    assert [ramp["way"] for ramp in chart["ramps"]] == ["slowing down", "speeding up"]
    assert chart["range_m_min"] == [50.0, 150.0]
    assert [hold["v"] for hold in chart["holds"]] == [150.0, 50.0, 150.0]


def test_the_line_is_the_drawn_truth_at_the_speed_of_printing(invented):
    """Cyan was made as 0.02 + 0.0016 x (150 - speed) mm at the speed of the frame itself."""
    run, offsets, _ = invented
    chart = of(at_station(run, 2), offsets, "cyan")
    for ramp in chart["ramps"]:
        for one in ramp["bins"]:
            true = 0.02 + 0.0016 * (150 - one["v"])
            half_a_bin = 0.0016 * 100 / BINS / 2
            assert one["mid"] == pytest.approx(true, abs=0.012 + half_a_bin)


def test_a_station_far_from_the_camera_is_drawn_at_the_speed_it_printed_at(invented):
    """With d metres of web to the camera the same frames were printed d metres earlier."""
    run, offsets, _ = invented
    near = of(at_station(run, 2), offsets, "cyan")["ramps"][0]["bins"]
    press = replace(run.job.press, cameras=(CameraPost("", 2, 10.0),))
    far_run = replace(run, job=replace(run.job, press=press))
    far = of(far_run, offsets, "cyan")["ramps"][0]["bins"]
    # While slowing down, what was printed earlier was printed faster.
    shift = speed_at(far, 0.10) - speed_at(near, 0.10)
    # 57.5 m of web from 150 to 50 m/min: 10 m of web are 17.4 m/min.
    assert shift == pytest.approx(10.0 * 100.0 / 57.5, abs=4.0)


def test_extremes_of_every_ramp_are_kept(invented):
    run, offsets, _ = invented
    spiked = offsets.copy()
    rows = np.flatnonzero(spiked["ink"] == "yellow")
    spiked["circumferential_mm"][rows[34]] = 0.3
    bins = [b for ramp in of(at_station(run, 4), spiked, "yellow")["ramps"] for b in ramp["bins"]]
    assert max(b["high"] for b in bins) == 0.3
    assert max(b["mid"] for b in bins) < 0.1 or len(bins) > 30


def test_doubtful_and_missing_frames_are_not_in_it(invented):
    run, offsets, _ = invented
    bins = [b for ramp in of(run, offsets, "yellow")["ramps"] for b in ramp["bins"]]
    assert max(b["high"] for b in bins) < 0.1  # the doubtful one was made at 0.21


@pytest.mark.parametrize("speed", [np.nan, 60.0])
def test_without_two_speeds_there_is_no_chart(invented, speed):
    run, offsets, _ = invented
    steady = offsets.copy()
    steady["speed_m_min"] = speed
    assert of(run, steady, "cyan") is None


def test_every_point_of_the_drawing_has_words_and_lies_in_the_frame(invented, facts):
    curve = next(c for c in facts["charts"]["curves"] if c["ink"] == "cyan")
    drawn = loop(of(*invented[:2], "cyan"), curve, facts["charts"]["range_mm"]["circumferential"])
    points = [point for ramp in drawn["ramps"] for point in ramp["points"]] + drawn["holds"]
    for point in points:
        assert 52 <= point["x"] <= 480
        assert 10 <= point["to"] <= point["y"] <= point["from"] <= 142
        assert "m/min: 0." in point["words"]
    words = " ".join(point["words"] for point in points)
    assert "slowing down" in words
    assert "speeding up" in words
