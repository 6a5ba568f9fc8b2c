"""The web's answers, against worked values of the mass balance and scipy's own integration.

Worked values: derived from the mass balance of the web and confirmed by an
independent non-linear simulation (docs/how/press_model.md).
"""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from regscan.drift.model.transport import Spans, answer, step_table

SEVEN = Spans(np.ones(8), np.arange(8))
DIPS_UM = (36.8, 54.1, 67.2, 78.1, 87.7, 96.4, 104.3)


def test_a_step_of_strain_dips_early_deeper_and_later_down_the_press():
    grid, table = step_table("strain", 0, 0.0, tuple([1.0] * 8))
    for spans_on, dip_um in enumerate(DIPS_UM, 1):
        late_um = 100.0 * table[:, spans_on]  # 100 ppm, m per unit of strain: um per ppm
        assert late_um.min() == pytest.approx(-dip_um, abs=0.6)
        # The frame lags: the piece of web that shows it was printed spans_on metres further on.
        assert grid[late_um.argmin()] == pytest.approx(float(spans_on), abs=0.06)
        assert late_um[-1] == pytest.approx(0.0, abs=0.5)


def test_one_larger_drum_is_a_stair_and_all_of_them_a_fan():
    _, one = step_table("drum", 3, 0.0, tuple([1.0] * 8))
    np.testing.assert_allclose(100.0 * one[-1], [0, 0, 0, 100, 100, 100, 100, 100], atol=0.5)
    _grid, every = step_table("drums", 0, 0.0, tuple([1.0] * 8))
    settled = 100.0 * (every[-1] - every[0])
    np.testing.assert_allclose(settled, np.arange(0, 800, 100), atol=1.0)


def test_a_side_step_shows_as_a_blip_of_both_signs():
    # -0.632 of it just before x = L and +0.368 just after (string web).
    _grid, table = step_table("side", 0, 0.0, (1.0, 1.0))
    own = table[:, 1]
    assert own.max() - own.min() == pytest.approx(1.0, abs=0.04)
    assert sorted((abs(own.max()), abs(own.min()))) == pytest.approx([0.368, 0.632], abs=0.03)


def test_ramped_strain_agrees_with_scipys_integration_of_the_spans():
    spans = Spans(np.array([0.0, 0.8, 1.3, 1.0]), np.arange(4))
    grid = np.arange(0.0, 40.0, 0.02)

    def comes_in(x):
        return 120.0 * np.sin(x / 3.0) * np.exp(-x / 20.0)

    table = answer("strain", 0, comes_in(grid), grid, spans)

    def rate(x, e):
        arriving = [comes_in(x), *e[:-1]]
        return (np.array(arriving) - e) / spans.span_m[1:]

    solved = solve_ivp(rate, (0.0, 40.0), [0.0, 0.0, 0.0], t_eval=grid, rtol=1e-9, atol=1e-9).y
    passed = np.concatenate(([0.0], np.cumsum((comes_in(grid)[1:] + comes_in(grid)[:-1]) * 0.01)))
    for k in (1, 2, 3):
        content = (spans.span_m[1 : k + 1, None] * solved[:k]).sum(axis=0)
        first = np.interp(grid - spans.place_m[k], grid, -passed)
        own = content - passed
        # Both as a frame shows them: against the first station's print on the same web.
        late = own - first
        later = grid > spans.place_m[k]
        np.testing.assert_allclose(table[later, k], late[later], atol=0.3)
