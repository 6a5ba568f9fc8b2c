"""The filter that takes correlation out, and the doubts that rest on it."""

import numpy as np
import pytest

from regscan.drift.model.noise import Noise, Whitener, noise_of_residuals, seen_of


def covariance(gap, noise):
    """First-order part and a part of its own in every frame, as a dense matrix."""
    at = np.cumsum(gap)
    rho = noise.correlation ** np.abs(at[:, None] - at[None, :])
    return noise.share * rho + (1.0 - noise.share) * np.eye(len(gap))


def test_whitened_sums_are_those_of_dense_generalised_least_squares():
    rng = np.random.default_rng(2)
    gap = rng.choice([1.0, 2.0, 5.0], 60)
    noise = Noise(0.8, 0.5)
    weight = np.ones((60, 1))
    weight[[7, 20, 21], 0] = 0.0
    white = Whitener(seen_of(gap, weight), noise)
    a, b = rng.normal(size=(2, 60))
    kept = weight[:, 0] > 0
    dense = np.linalg.inv(covariance(gap, noise)[np.ix_(kept, kept)])
    left = white(np.stack([a, b], axis=1)[:, None, :])[:, 0]
    assert left[:, 0] @ left[:, 1] == pytest.approx(a[kept] @ dense @ b[kept], rel=1e-9)


@pytest.mark.parametrize(("correlation", "share"), [(0.0, 1.0), (0.8, 1.0), (0.9, 0.5)])
def test_noise_is_recognised_behind_fitted_terms(correlation, share):
    worth = []
    true = Noise(correlation, share)
    for seed in range(6):
        rng = np.random.default_rng(seed)
        root = np.linalg.cholesky(covariance(np.ones(500), true))
        values = root @ rng.normal(size=(500, 3))
        terms = np.column_stack([np.ones(500), np.linspace(-1, 1, 500), np.arange(500) > 250])
        fitted = terms @ np.linalg.lstsq(terms, values, rcond=None)[0]
        found = noise_of_residuals(values - fitted, terms, np.ones(500), np.ones((500, 3)))
        worth.append(found.frames_per_independent)
    assert np.mean(worth) == pytest.approx(true.frames_per_independent, rel=0.25)


def test_gains_that_are_kept_are_those_worked_out_anew():
    rng = np.random.default_rng(3)
    gap = rng.choice([1.0, 2.0, 5.0], 40)
    columns = rng.normal(size=(40, 4, 2))
    known = {}
    for weight in (rng.choice([0.0, 0.5, 1.0], (40, 4)), np.ones((40, 4))):
        for noise in (Noise(0.8, 0.5), Noise(0.8, 0.9), Noise(0.8, 0.5)):
            new = Whitener(seen_of(gap, weight), noise)(columns)
            assert np.array_equal(Whitener(seen_of(gap, weight), noise, known)(columns), new)
    assert len(known) == 10  # two noises, four stations seen each in its way and all alike


@pytest.mark.parametrize(("correlation", "share"), [(0.95, 0.3), (0.983, 0.26)])
def test_intervals_of_levels_hold_in_runs_too_short_to_know_their_noise(correlation, share):
    """The estimate of the wander is a poor one here, and the doubt of a level must allow for it."""
    off = []
    root = np.linalg.cholesky(covariance(np.ones(400), Noise(correlation, share)))
    gap, weight, ones = np.ones(400), np.ones((400, 5)), np.ones((400, 1))
    for seed in range(40):
        values = root @ np.random.default_rng(seed).normal(size=(400, 5))
        level = values.mean(axis=0)
        noise = noise_of_residuals(values - level, ones, gap, weight)
        white = Whitener(seen_of(gap, weight), noise)
        left, levels = white((values - level)[:, :, None])[:, :, 0], white(np.ones((400, 5, 1)))
        sd = np.sqrt((left**2).sum(axis=0) / 399 / (levels[:, :, 0] ** 2).sum(axis=0))
        off += (level / sd).tolist()
    assert 0.92 <= np.mean(np.abs(off) < 1.96) <= 0.985
