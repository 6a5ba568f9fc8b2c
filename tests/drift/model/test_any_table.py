"""Whatever a table holds, the run model answers with less, never a crash or a made-up term."""

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from drift.presses import JOB, TWO_CAMERAS
from drift.test_any_table import key, logs, numbers_in, rows
from regscan.drift.why import explain_run
from regscan.offsets.columns import OFFSET_COLUMNS
from regscan.offsets.table import table_of


@settings(max_examples=40, deadline=None)
@given(st.lists(rows(), max_size=60, unique_by=key), logs, st.sampled_from([JOB, TWO_CAMERAS]))
def test_any_table_gives_an_answer_without_a_number_that_is_none(made, log, job):
    behaviours, causes = explain_run(table_of(made, OFFSET_COLUMNS), job, log)
    for record in (behaviours, causes):
        assert all(math.isfinite(number) for number in numbers_in(record))
    if not behaviours.stations:
        assert behaviours.reduced
        assert causes == ()


@st.composite
def long_tables(draw):
    """A run that is long enough, with whole columns or stretches of it spoiled."""
    frames = draw(st.integers(24, 90))
    rng = np.random.default_rng(draw(st.integers(0, 10**6)))
    spoiled = draw(st.sets(st.sampled_from(["time_s", "web_m", "speed_m_min", "some", "still"])))
    made = []
    for k in range(frames):
        speed = 0.0 if "still" in spoiled else 100.0 + 40.0 * math.sin(k / 9.0)
        for ink in ("white", "cyan", "black"):
            late = float(rng.normal(0.0, 0.005)) + 0.05 * (ink == "cyan") * (k > frames / 2)
            row = {
                "frame": f"{k}.png",
                "time_s": 2.0 * k,
                "web_m": 0.0 if "still" in spoiled else 3.0 * k,
                "speed_m_min": speed,
                "camera": "",
                "edge": "",
                "station": 1,
                "ink": ink,
                "status": "ok",
                "circumferential_mm": late * (ink != "black"),
                "lateral_mm": draw(st.sampled_from([0.0, late])),
                "circumferential_sd_mm": None,
            }
            lost = {name: None for name in spoiled & set(row)}
            if "some" in spoiled and rng.random() < 0.3:
                lost |= {"web_m": None, "time_s": None}
            made.append(row | lost)
    return made


@settings(max_examples=8, deadline=None)
@given(long_tables())
def test_a_spoiled_run_gives_an_answer_without_a_number_that_is_none(made):
    behaviours, causes = explain_run(table_of(made, OFFSET_COLUMNS), JOB)
    for record in (behaviours, causes):
        assert all(math.isfinite(number) for number in numbers_in(record))
    assert behaviours.reduced
