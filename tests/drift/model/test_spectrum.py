"""Spectra of all stations at once, against those of one series and against scipy's."""

import numpy as np
import pytest
from scipy.signal import lombscargle

from regscan.drift.model.spectrum import even_spectra, lomb_scargle


def test_power_of_all_series_is_scipys_of_each_where_it_was_seen():
    rng = np.random.default_rng(4)
    at = np.sort(rng.uniform(0.0, 300.0, 400))
    series = np.cos(2.0 * np.pi * 0.31 * at)[:, None] + rng.normal(size=(400, 3))
    series[rng.random((400, 3)) < 0.1] = 0.0
    frequency = np.linspace(0.02, 0.9, 50)
    power = lomb_scargle(at, series, frequency)
    for values, found in zip(series.T, power.T, strict=True):
        seen = values != 0.0
        wanted = lombscargle(at[seen], values[seen], 2.0 * np.pi * frequency)
        assert found == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize("count", [1, 2, 3, 50, 64])
def test_even_frequencies_by_coarse_and_fine_steps_are_plain_fourier_sums(count):
    rng = np.random.default_rng(count)
    at, series = rng.uniform(-40.0, 40.0, 90), rng.normal(size=(90, 2))
    even = 0.15 + 0.01 * np.arange(count)
    plain = np.abs(series.T @ np.exp(-2j * np.pi * at[:, None] * even)) ** 2
    assert even_spectra(at, series, even) == pytest.approx(plain, rel=1e-8, abs=1e-8)
