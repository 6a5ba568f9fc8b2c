"""The median against numpy's."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from regscan.marks.median import median


@given(st.lists(st.floats(-1e6, 1e6), min_size=1))
def test_as_numpy_says(values):
    assert median(values) == pytest.approx(float(np.median(values)), abs=1e-9)


@pytest.mark.parametrize("place", [0, 1, 2])
def test_what_is_not_known_stays_unknown(place):
    values = [1.0, 3.0]
    values.insert(place, math.nan)
    assert math.isnan(median(values))
