"""The doubt a mean claims is the doubt it has, on noise that wanders."""

import numpy as np
import pytest

from drift.presses import noise_of
from regscan.drift.mean import correlation_frames, robust_mean, sd_of_mean, spread_of


def claimed(holds):
    """(mean, its claimed sd, spread) of each hold, the noise of all taken together."""
    means = [robust_mean(values) for values in holds]
    worth = correlation_frames([m.influence_mm - m.mean_mm for m in means])
    spreads = [spread_of(m.influence_mm, worth) for m in means]
    return [
        (m.mean_mm, sd_of_mean(s, worth, len(v)), s)
        for m, s, v in zip(means, spreads, holds, strict=True)
    ]


def pull_spread(frames, wander, *, holds=1, runs=600):
    """Spread over many seeded runs of (mean - truth) / claimed sd; 1 is honest."""
    pulls = []
    for seed in range(runs // holds):
        rng = np.random.default_rng([seed, frames, holds])
        noise = [noise_of(rng, frames, 0.01, wander) for _ in range(holds)]
        pulls += [mean / sd for mean, sd, _ in claimed(noise)]
    return np.std(pulls)


@pytest.mark.parametrize("wander", [0.0, 0.3, 0.6])
@pytest.mark.parametrize("frames", [60, 150, 400])
def test_one_hold_claims_its_real_doubt(frames, wander):
    assert 0.85 < pull_spread(frames, wander) < 1.15


@pytest.mark.parametrize("frames", [150, 400])
def test_a_long_hold_does_so_where_noise_wanders_far(frames):
    assert 0.85 < pull_spread(frames, 0.8) < 1.15


@pytest.mark.parametrize("wander", [0.0, 0.3, 0.6, 0.8])
def test_three_short_holds_know_more_together(wander):
    assert 0.85 < pull_spread(45, wander, holds=3) < 1.15


def test_white_noise_upon_a_slow_wander():
    # Neither of the two estimates alone is right here: the first-order one is 1.5 off.
    pulls = []
    for seed in range(500):
        rng = np.random.default_rng(seed)
        values = noise_of(rng, 400, 0.01, 0.9) + noise_of(rng, 400, 0.01, 0.0)
        ((mean, sd, _),) = claimed([values])
        pulls.append(mean / sd)
    assert 0.85 < np.std(pulls) < 1.15


def test_the_plain_rule_would_boast():
    # What this file guards against: sigma over root n is 2.6 times too small at wander 0.8.
    boasts = []
    for seed in range(300):
        values = noise_of(np.random.default_rng(seed), 150, 0.01, 0.8)
        boasts.append(values.mean() / (values.std(ddof=1) / np.sqrt(150)))
    assert np.std(boasts) > 2.0


@pytest.mark.parametrize("wander", [0.0, 0.6])
def test_the_spread_of_single_frames_is_found(wander):
    spreads = []
    for seed in range(300):
        values = noise_of(np.random.default_rng(seed), 60, 0.01, wander)
        ((_, _, spread),) = claimed([values])
        spreads.append(spread)
    assert np.mean(spreads) == pytest.approx(0.01, rel=0.05)


def test_a_few_wild_frames_do_not_move_the_mean():
    rng = np.random.default_rng(5)
    values = rng.normal(0.05, 0.008, 100)
    values[::20] += 1.0
    assert values.mean() - 0.05 > 0.04
    ((mean, sd, _),) = claimed([values])
    # Five one-sided outliers in a hundred shift Huber's mean by a tenth of a spread.
    assert abs(mean - 0.05) < 0.002
    assert sd < 0.002


def test_clean_frames_lose_nearly_nothing_by_robustness():
    # Huber's mean clipped at two spreads has 99 % of the plain mean's efficiency (Huber 1981).
    robust, plain = [], []
    for seed in range(2000):
        values = np.random.default_rng(seed).normal(size=30)
        robust.append(robust_mean(values).mean_mm)
        plain.append(values.mean())
    assert np.var(robust) / np.var(plain) < 1.05


def test_equal_values_have_no_spread():
    ((mean, sd, spread),) = claimed([np.full(10, 0.02)])
    assert (mean, sd, spread) == pytest.approx((0.02, 0.0, 0.0), abs=1e-12)


def test_frames_that_alternate_are_not_taken_for_better_than_white():
    assert correlation_frames([np.tile([1.0, -1.0], 50)]) >= 1.0
