"""The charts on the worked examples of the NIST/SEMATECH e-Handbook of Statistical Methods."""

import numpy as np
import pytest

from regscan.drift.monitor.charts import Cusum, Ewma

# 6.3.2.4, EWMA control charts: EWMA0 50, s 2.0539, lambda 0.3, k 3; printed to two decimals.
EWMA_X = """52.0 47.0 53.0 49.3 50.1 47.0 51.0 50.1 51.2 50.5 49.6 47.6 49.9 51.3 47.8 51.2 52.6
52.4 53.6 52.1"""
EWMA_SHOWN = """50.60 49.52 50.56 50.18 50.16 49.21 49.75 49.85 50.26 50.33 50.11 49.36 49.52 50.05
49.38 49.92 50.73 51.23 51.94 51.99"""
# 6.3.2.3, CUSUM control charts: target 325, k .3175, h 4.1959.
CUSUM_X = """324.925 324.675 324.725 324.350 325.350 325.225 324.125 324.525 325.225 324.600 324.625
325.150 328.325 327.250 327.825 328.500 326.675 327.775 326.875 328.350"""


def numbers(text):
    return [float(word) for word in text.split()]


def test_ewma_of_the_handbook():
    chart = Ewma(1, 0.3, 3.0, target=50.0, sd=2.0539)
    signals, values = [], []
    for x in numbers(EWMA_X):
        signals.append(bool(chart.feed(np.array([x]))[0]))
        values.append(chart.value[0])
    assert values == pytest.approx(numbers(EWMA_SHOWN), abs=0.00501)
    assert 50.0 + chart.limit == pytest.approx(52.5884, abs=5e-5)
    assert 50.0 - chart.limit == pytest.approx(47.4115, abs=1e-4)  # printed cut, not rounded
    assert not any(signals)


def test_cusum_of_the_handbook():
    chart = Cusum(1, 0.3175, 4.1959, target=325.0)
    signals = [bool(chart.feed(np.array([x]))[0]) for x in numbers(CUSUM_X)]
    assert signals.index(True) == 13  # group 14
    assert chart.high[0] == pytest.approx(19.035, abs=0.0051)


def test_a_sample_that_is_not_there_changes_nothing():
    ewma, cusum = Ewma(2, 0.3, 3.0), Cusum(2, 0.5, 5.0)
    for chart in (ewma, cusum):
        chart.feed(np.array([1.0, 1.0]))
        chart.feed(np.array([np.nan, 1.0]))
    assert ewma.value == pytest.approx([0.3, 0.51])
    assert cusum.high == pytest.approx([0.5, 1.0])
