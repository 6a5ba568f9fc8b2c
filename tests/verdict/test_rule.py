"""The rule of the gate against published and recomputed numbers."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from regscan.verdict.rule import FACTOR, conformance, judge, small_sample

IN, OUT, UNSURE = "in register", "out of tolerance", "cannot be decided"


def test_the_one_sided_factor():
    # ISO 14253-1:2017 from memory (1.65); exact 1.6449, any table of the normal distribution.
    assert pytest.approx(1.6449, abs=5e-5) == FACTOR


# Tolerance +-0.100 mm, u = 0.010 mm: JCGM 106:2012 (formula from memory), recomputed values.
@pytest.mark.parametrize(
    ("offset", "probability"),
    [(0.080, 0.97725), (0.0835, 0.95053), (0.090, 0.84134), (0.100, 0.50000), (0.120, 0.02275)],
)
def test_conformance_probability(offset, probability):
    for side in (1, -1):
        assert conformance(side * offset, 0.010, 0.100) == pytest.approx(probability, abs=5e-6)


@pytest.mark.parametrize(
    ("offset", "sd", "limit", "answer"),
    [
        (0.0, 0.010, 0.100, IN),
        (0.080, 0.010, 0.100, IN),
        (0.0835, 0.010, 0.100, IN),  # last pass
        (-0.0835, 0.010, 0.100, IN),  # early is as good as late
        (0.0836, 0.010, 0.100, UNSURE),  # one step on: p 0.9495
        (0.090, 0.010, 0.100, UNSURE),
        (0.100, 0.010, 0.100, UNSURE),  # on the limit, doubt on either side
        (0.1164, 0.010, 0.100, UNSURE),
        (0.1165, 0.010, 0.100, OUT),  # first proven failure
        (-0.1165, 0.010, 0.100, OUT),
        (0.120, 0.010, 0.100, OUT),
        (0.1, 0.0, 0.1, IN),  # exact knowledge: the limit itself is allowed
        (0.1 + 2e-9, 0.0, 0.1, OUT),
        (0.1 + 1e-12, 0.0, 0.1, IN),  # rounding of floats decides nothing
        (0.0, 0.048, 0.100, IN),
        (0.0, 0.060, 0.100, UNSURE),  # both limits count: 0.904, though |y| + 1.6449 u < limit
        (0.0, 100.0, 0.100, UNSURE),  # knowing nothing proves no failure
        (math.nan, 0.010, 0.100, UNSURE),
        (0.05, math.nan, 0.100, UNSURE),
        (0.05, math.inf, 0.100, UNSURE),
        (math.inf, 0.010, 0.100, UNSURE),
    ],
)
def test_truth_table(offset, sd, limit, answer):
    assert judge(offset, sd, limit) == answer


@given(st.floats(-1, 1), st.floats(0, 1), st.floats(0.001, 1))
def test_both_sides_alike_and_less_doubt_never_turns_a_pass(offset, sd, limit):
    answer = judge(offset, sd, limit)
    assert judge(-offset, sd, limit) == answer
    if answer == IN:
        assert judge(offset, sd / 2, limit) == IN
        assert judge(offset / 2, sd, limit) == IN
    if answer == OUT:
        assert judge(offset, sd / 2, limit) == OUT


@pytest.mark.parametrize("freedom", [3, 4, 5, 9, 30, 1000])
def test_few_frames_count_by_student(freedom):
    from scipy.stats import t

    ratio = t.ppf(0.95, freedom) / FACTOR
    assert small_sample(freedom) == pytest.approx(ratio, rel=0.01)


@pytest.mark.parametrize("frames", [5, 10, 40])
def test_a_press_on_its_limit_passes_no_more_than_one_time_in_twenty(frames):
    # True offset on the limit, where a wrong pass is likeliest; doubt from the frames alone.
    rng = np.random.default_rng(frames)
    runs = 20000
    values = 0.1 + rng.normal(0, 0.01, (runs, frames))
    sds = values.std(axis=1, ddof=1) / np.sqrt(frames) * small_sample(frames - 1)
    passed = np.mean(
        [judge(m, s, 0.1) == IN for m, s in zip(values.mean(axis=1), sds, strict=True)]
    )
    assert passed == pytest.approx(0.05, abs=0.006)  # 3.9 sd of this count
