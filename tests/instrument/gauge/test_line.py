"""A straight line against GUM H.3 and NIST Norris."""

import numpy as np
import pytest

from regscan.instrument.gauge.line import straight_line

# JCGM 100:2008, H.3: a thermometer against a standard. Data published, results from memory,
# recomputed.
T = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
B = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]

# NIST Statistical Reference Datasets, Norris. Published and recomputed.
NORRIS_X = """.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777 558.2 .4 .6 775.5 666.9 338
447.5 11.6 556 228.1 995.8 887.6 120.2 .3 .3 556.8 339.1 887.2 999 779 11.1 118.3 229.2 669.1
448.9 .5"""
NORRIS_Y = """.1 338.8 118.1 888 9.2 228.1 668.5 998.5 449.1 778.9 559.2 .3 .1 778.1 668.8 339.3
448.9 10.8 557.7 228.3 998 888.8 119.6 .3 .6 557.6 339.3 888 998.5 778.9 10.2 117.6 228.9 668.4
449.2 .2"""


def test_gum_h3():
    """y1 -0.1712 s 0.0029, y2 0.00218 s 0.00067, r -0.930, s 0.0035; at 30: -0.1494 u 0.0041."""
    line = straight_line(np.array(T) - 20.0, np.array(B))
    assert line.intercept == pytest.approx(-0.1712, abs=5e-5)
    assert line.intercept_sd == pytest.approx(0.0029, abs=5e-5)
    assert line.slope == pytest.approx(0.00218, abs=5e-6)
    assert line.slope_sd == pytest.approx(0.00067, abs=5e-6)
    assert line.correlation == pytest.approx(-0.930, abs=5e-4)
    assert line.residual_sd == pytest.approx(0.0035, abs=5e-5)
    value, sd = line.at(10.0)
    assert value == pytest.approx(-0.1494, abs=5e-5)
    assert sd == pytest.approx(0.0041, abs=5e-5)


def test_nist_norris():
    x, y = (np.array([float(v) for v in text.split()]) for text in (NORRIS_X, NORRIS_Y))
    line = straight_line(x, y)
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-10)
    assert line.intercept_sd == pytest.approx(0.232818234301152, rel=1e-10)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-12)
    assert line.slope_sd == pytest.approx(0.429796848199937e-03, rel=1e-10)
    assert line.residual_sd == pytest.approx(0.884796396144373, rel=1e-10)
