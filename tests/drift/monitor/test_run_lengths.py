"""Run lengths against the tables of the papers they come from."""

import pytest

from regscan.drift.monitor.run_lengths import (
    cusum_limit_for,
    cusum_run_length,
    ewma_run_length,
    ewma_width_for,
)

# Lucas and Crosier, Technometrics 24 (1982), Table 1: two-sided cusum, k 0.5, h 4.
LUCAS_CROSIER = {
    0.0: 168.0, 0.25: 74.2, 0.5: 26.6, 0.75: 13.3, 1.0: 8.38, 1.5: 4.75, 2.0: 3.34, 2.5: 2.62,
    3.0: 2.19, 4.0: 1.71, 5.0: 1.31,
}  # fmt: skip
# Lucas and Saccucci, Technometrics 32 (1990), Table 3: two-sided EWMA, fixed limits.
LUCAS_SACCUCCI = {
    (0.5, 3.071): {0.0: 500.0, 0.25: 255.0, 0.5: 88.8, 0.75: 35.9, 1.0: 17.5, 1.5: 6.53, 2.0: 3.63,
                   3.0: 1.93, 4.0: 1.34},
    (0.03, 2.437): {0.0: 500.0, 0.25: 76.7, 0.5: 29.3, 0.75: 17.6, 1.0: 12.6, 1.5: 8.07, 2.0: 5.99,
                    3.0: 4.03, 4.0: 3.11},
}  # fmt: skip
# All three as quoted in the manual pages of R's package spc (xcusum.arl, xewma.arl).


@pytest.mark.parametrize("shift", LUCAS_CROSIER)
def test_cusum_run_lengths_as_published(shift):
    published = LUCAS_CROSIER[shift]
    assert cusum_run_length(0.5, 4.0, shift) == pytest.approx(published, rel=0.003)


@pytest.mark.parametrize("chart", LUCAS_SACCUCCI)
def test_ewma_run_lengths_as_published(chart):
    for shift, published in LUCAS_SACCUCCI[chart].items():
        assert ewma_run_length(*chart, shift) == pytest.approx(published, rel=0.003)


def test_ewma_run_length_to_eleven_figures():
    # SAS/QC manual 1999, as quoted in the same pages.
    assert ewma_run_length(0.25, 3.0, 1.0) == pytest.approx(11.154267016, rel=1e-9)


def test_limits_give_back_their_run_length():
    for frames in (465.4, 4e5):
        limit = cusum_limit_for(0.5, frames)
        assert cusum_run_length(0.5, limit) == pytest.approx(frames, rel=1e-3)
        width = ewma_width_for(0.2, frames)
        assert ewma_run_length(0.2, width) == pytest.approx(frames, rel=1e-3)
    assert cusum_limit_for(0.5, 465.4) == pytest.approx(5.0, abs=0.001)
