"""Two values that share an error, against GUM H.2: the difference must carry the correlation."""

import math

import numpy as np
import pytest

from regscan.offsets.offset import Offset, difference

# JCGM 100:2008, H.2: five readings of a voltage (V) and a current (A). Inputs published,
# results from memory, recomputed: impedance Z = V / I 254.260 ohm, u 0.236.
VOLT = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
AMPERE = np.array([19.663, 19.639, 19.640, 19.685, 19.678]) / 1000.0


def as_offset(values, shared):
    """The logarithm of a mean reading, in place of a place; sd of the mean, shared part of it."""
    mean, count = values.mean(), len(values)
    sd = values.std(ddof=1) / math.sqrt(count) / mean
    return Offset(1, "", "", "ok", math.log(mean), 0.0, sd, 0.0, shared, 0.0)


def test_the_ratio_of_two_correlated_readings():
    """ln Z = ln V - ln I: a difference of two values, correlated by -0.355."""
    count = len(VOLT)
    covariance = np.cov(VOLT, AMPERE)[0, 1] / count / (VOLT.mean() * AMPERE.mean())
    assert np.corrcoef(VOLT, AMPERE)[0, 1] == pytest.approx(-0.355, abs=1e-3)
    # What two offsets share is one number for each whose product is their covariance.
    part = math.sqrt(abs(covariance))
    voltage, current = as_offset(VOLT, part), as_offset(AMPERE, math.copysign(part, covariance))
    log_z, sd = difference(voltage, current, "circumferential")
    assert math.exp(log_z) == pytest.approx(254.260, abs=5e-3)
    assert math.exp(log_z) * sd == pytest.approx(0.236, abs=5e-4)
    # Without the correlation an eighth of the doubt would go unsaid here.
    naive = math.hypot(voltage.circumferential_sd_mm, current.circumferential_sd_mm)
    assert naive < 0.88 * sd


def test_an_error_that_is_wholly_shared_drops_out():
    one = Offset(1, "", "", "ok", 0.05, 0.0, 0.01, 0.0, 0.01, 0.0)
    other = Offset(2, "", "", "ok", 0.02, 0.0, 0.01, 0.0, 0.01, 0.0)
    assert difference(one, other, "circumferential") == pytest.approx((0.03, 0.0))
