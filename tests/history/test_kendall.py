"""The trend test against published values, against scipy, and against chance itself."""

import numpy as np
import pytest
from scipy import stats

from regscan.history.kendall import holm, slope_of

# Hollander and Wolfe (1973), Nonparametric Statistical Methods, p. 185: lightness of tuna and
# its quality score; R's help page of cor.test prints T = 26 and p = 0.1194 for them.
TUNA_L = np.array([44.4, 45.9, 41.9, 53.3, 44.7, 44.1, 50.7, 45.2, 60.1])
TUNA_SCORE = np.array([2.6, 3.1, 2.5, 5.0, 3.6, 4.0, 5.2, 2.8, 3.8])


def test_a_published_example():
    assert slope_of([(TUNA_L, TUNA_SCORE)]).p == pytest.approx(0.1194, abs=5e-5)


@pytest.mark.parametrize("size", [4, 7, 12, 30])
def test_one_group_is_kendalls_exact_test_and_theil_sens_slope(size):
    rng = np.random.default_rng(size)
    times, values = np.sort(rng.uniform(0, 10, size)), rng.normal(size=size)
    values += 0.15 * times
    found = slope_of([(times, values)])
    tau = stats.kendalltau(times, values, method="exact")
    theil = stats.theilslopes(values, times, 0.95)
    assert found.p == pytest.approx(tau.pvalue, rel=1e-9)
    assert found.per_time == pytest.approx(theil.slope, rel=1e-12)
    # The ends of the interval are slopes of pairs; scipy rounds to the next pair on either side.
    slopes = np.sort([
        (values[b] - values[a]) / (times[b] - times[a])
        for a in range(size) for b in range(a + 1, size)
    ])  # fmt: skip
    for ours, theirs in ((found.low, theil.low_slope), (found.high, theil.high_slope)):
        apart = abs(np.searchsorted(slopes, ours) - np.searchsorted(slopes, theirs))
        assert apart <= 1


def test_ties_follow_the_normal_law_with_the_published_variance():
    rng = np.random.default_rng(3)
    values = rng.integers(0, 3, 40).astype(float)
    times = np.arange(40.0)
    score = sum(np.sign(values[b] - values[a]) for a in range(40) for b in range(a + 1, 40))
    tau = stats.kendalltau(times, values, method="asymptotic")
    beyond = stats.norm.isf(tau.pvalue / 2)  # scipy's score over its standard deviation
    corrected = 2 * stats.norm.sf(beyond * (abs(score) - 1) / abs(score))
    assert slope_of([(times, values)]).p == pytest.approx(corrected, rel=1e-6)


def test_groups_share_a_slope_and_not_a_level():
    rng = np.random.default_rng(5)
    groups = []
    for level in (0.0, 5.0, -3.0):  # a job on film lies elsewhere than one on paper
        times = np.sort(rng.uniform(0, 12, 9))
        groups.append((times, level + 0.1 * times + rng.normal(0, 0.05, 9)))
    found = slope_of(groups)
    assert found.low < 0.1 < found.high
    assert found.p < 1e-6


def test_a_change_in_the_mix_of_jobs_is_no_trend():
    """First only paper, then only film: each steady, the plain test is sure of a rise."""
    rng = np.random.default_rng(6)
    early, late = np.arange(0.0, 10.0), np.arange(9.0, 19.0)
    paper, film = 0.01 + rng.normal(0, 0.001, 10), 0.03 + rng.normal(0, 0.001, 10)
    apart = slope_of([(early, paper), (late, film)])
    together = slope_of([(np.concatenate([early, late]), np.concatenate([paper, film]))])
    assert together.p < 1e-4
    assert apart.p > 0.05


@pytest.mark.parametrize("sizes", [(12,), (7, 6, 3), (5, 4, 4, 2)])
def test_probabilities_are_true_where_nothing_changes(sizes):
    rng = np.random.default_rng(sum(sizes))
    found = []
    for _ in range(1500):
        groups = [(np.sort(rng.uniform(0, 1, n)), rng.standard_cauchy(n)) for n in sizes]
        found.append(slope_of(groups).p)
    for level in (0.05, 0.2):
        share = np.mean(np.array(found) <= level)
        # Exact tests keep below their level by their own coarseness, never above it.
        assert 0.4 * level < share < level + 3.3 * np.sqrt(level * (1 - level) / 1500)


def test_the_interval_holds_the_true_slope_at_its_rate():
    rng = np.random.default_rng(8)
    inside = 0
    for _ in range(400):
        groups = [
            (times := np.sort(rng.uniform(0, 12, n)), 0.02 * times + rng.normal(0, 0.1, n))
            for n in (10, 8)
        ]
        found = slope_of(groups)
        inside += found.low <= 0.02 <= found.high
    assert 0.93 * 400 <= inside <= 0.985 * 400


def test_nothing_to_compare_is_no_slope_and_no_change_is_no_surety():
    assert slope_of([]) is None
    assert slope_of([(np.array([1.0]), np.array([2.0]))] * 5) is None
    same = slope_of([(np.arange(9.0), np.ones(9))])
    assert (same.p, same.per_time) == (1.0, 0.0)


def test_holms_correction_by_hand():
    # Smallest times 4, next times 3 ... never falling (worked by hand).
    assert holm([0.01, 0.04, 0.03, 0.005]) == pytest.approx([0.03, 0.06, 0.06, 0.02])
    assert holm([]) == []
