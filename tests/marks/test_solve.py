"""The linear part of a fit against plain least squares in double precision."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from regscan.job.layout import Cross, Disc, Triangle
from regscan.marks.doubt import spread_reaches, upper_spread
from regscan.marks.fitting.fit import Start, fit_marks
from regscan.marks.fitting.reading import Laid, Patch, read
from regscan.marks.fitting.solve import solve, summed, trust_in
from regscan.marks.shape.template import Appearance, Template

AT = (52.3, 47.6)


def seen_of(shape, camera, *, lost=0.0, far=0.0):
    """A mark of half contrast read in noise, a share of its pixels unusable, some far off."""
    chance = np.random.default_rng(3)
    template = Template(shape, camera, Appearance(1.2, 1.2))
    weight = chance.uniform(0.1, 1.0, (105, 105)).astype(np.float32)
    light = chance.normal(0.8, 0.002 / np.sqrt(weight)).astype(np.float32)
    weight[chance.random(light.shape) < lost] = 0.0
    seen = read([Laid(Patch(light, weight), template, AT)])
    seen.rows[:, -1] -= 0.5 * seen.rows[:, 3]
    seen.rows[:, -1, ::97] += far
    return seen


def test_a_mark_of_which_no_pixel_may_be_used_is_not_found(camera):
    template = Template(Disc(0.6), camera, Appearance(1.2, 1.2))
    light = np.full((105, 105), 0.8, np.float32)
    usable = np.ones_like(light)
    starts = [
        Start(Patch(light, weight), template, AT, near=True) for weight in (0.0 * usable, usable)
    ]
    assert fit_marks(starts)[0] is None


@pytest.mark.parametrize("shape", [Disc(0.6), Cross(0.6, 0.2), Triangle(0.6)])
@pytest.mark.parametrize("lost", [0.0, 0.05])
def test_single_precision_moves_no_centre(camera, shape, lost):
    seen = seen_of(shape, camera, lost=lost)
    solution = solve(seen, seen.usable, summed(seen, seen.usable))
    root = np.sqrt(seen.usable[0].astype(float))
    parts, light = seen.parts[0].astype(float), seen.light[0].astype(float)
    plain, squares, _, _ = np.linalg.lstsq((parts * root).T, light * root, rcond=None)
    assert solution.theta[0, 4:6] / solution.theta[0, 3] == pytest.approx(
        plain[4:6] / plain[3], abs=1e-5
    )
    assert solution.theta[0] == pytest.approx(plain, rel=1e-3, abs=1e-4)
    assert solution.left[0] == pytest.approx(squares[0], rel=1e-4)


def test_what_is_far_off_loses_its_weight_and_nothing_else(camera):
    def trusted(seen):
        solution = solve(seen, seen.usable, summed(seen, seen.usable))
        return trust_in(seen, solution.residual, solution.contrast)

    assert trusted(seen_of(Disc(0.6), camera)) is None
    trust = trusted(seen_of(Disc(0.6), camera, far=0.1))[0]
    assert (trust[::97] < 0.1).mean() > 0.9  # a faint one is hardly known to be off
    assert (np.delete(trust, np.s_[::97]) == 1.0).mean() > 0.99


@given(st.lists(st.floats(0.0, 1e3, width=32), min_size=1, max_size=60), st.floats(1e-9, 1e3))
def test_a_spread_that_is_reached_is_no_smaller(sizes, spread):
    some = np.array(sizes, np.float32)
    if spread_reaches(some, some.size, spread):
        assert upper_spread(some) >= spread * (1.0 - 1e-6)
    reached = spread_reaches(some, some.size, spread)
    assert spread_reaches(np.append(some, np.zeros(7)), some.size, spread) == reached
