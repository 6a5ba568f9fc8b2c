"""Components of variance against published reference data and against drawn truth."""

import math

import numpy as np
import pytest

from regscan.instrument.gauge.anova import crossed, one_setup, one_way, two_way
from regscan.instrument.gauge.ranges import by_ranges, means_factor, trials_factor
from tests.instrument.gauge.reference import MSA, SIRSTV, SIRSTV_F, SIRSTV_SD


def test_mean_squares_of_the_msa_data():
    """Published table."""
    table = two_way(MSA)
    assert table.part.value == pytest.approx(9.81799, abs=5e-6)
    assert table.setup.value == pytest.approx(1.58363, abs=5e-6)
    assert table.interaction.value == pytest.approx(0.01994, abs=5e-6)
    assert table.error.value == pytest.approx(0.04598, abs=5e-6)
    freedoms = [s.freedom for s in (table.part, table.setup, table.interaction, table.error)]
    assert freedoms == [9, 2, 18, 60]
    assert table.probability == pytest.approx(0.974, abs=5e-4)


def test_anova_of_the_msa_data_with_the_interaction_pooled():
    """Recomputed: GRR sd .30237, 27.86 % of total variation, ndc 4."""
    parts = crossed(MSA)
    assert parts.pooled
    assert parts.interaction == 0.0
    assert parts.grr == pytest.approx(0.30237, abs=5e-6)
    assert 100 * parts.grr / parts.total == pytest.approx(27.86, abs=0.005)
    assert math.floor(1.41 * parts.part / parts.grr) == 4


def test_range_method_of_the_msa_data():
    """EV .20186 AV .22967 GRR .30577 PV 1.10460 TV 1.14613; 26.68 %, ndc 5 (published)."""
    parts = by_ranges(MSA)
    assert parts.repeatability == pytest.approx(0.20186, abs=5e-6)
    assert parts.reproducibility == pytest.approx(0.22967, abs=5e-6)
    assert parts.grr == pytest.approx(0.30577, abs=5e-6)
    assert parts.part == pytest.approx(1.10460, abs=5e-6)
    assert parts.total == pytest.approx(1.14613, abs=5e-6)
    assert 100 * parts.grr / parts.total == pytest.approx(26.68, abs=0.005)
    assert math.floor(1.41 * parts.part / parts.grr) == 5


def test_the_factors_of_the_range_method():
    """K1 .5908, K2 .5231, K3 .3146 (published); two trials .8862, two set-ups .7071 (memory)."""
    assert trials_factor(3) == 0.5908
    assert means_factor(3) == 0.5231
    assert means_factor(10) == 0.3146
    assert trials_factor(2) == 0.8862
    assert means_factor(2) == 0.7071


def test_nist_sirstv():
    """F and the residual standard deviation agree with the certified values in every digit."""
    table = one_way(SIRSTV)
    assert table.f == pytest.approx(SIRSTV_F, rel=1e-12)
    assert math.sqrt(table.within.value) == pytest.approx(SIRSTV_SD, rel=1e-12)
    assert (table.between.freedom, table.within.freedom) == (4, 20)
    assert one_setup(SIRSTV).repeatability == pytest.approx(SIRSTV_SD, rel=1e-12)


def test_components_of_variance_are_those_that_were_drawn():
    """Mean of the variances over 400 drawn studies; they are unbiased before they are cut at 0."""
    rng = np.random.default_rng(11)
    true = {"repeatability": 0.003, "setup": 0.004, "interaction": 0.0035, "part": 0.010}
    squares = {name: [] for name in true}
    for _ in range(400):
        parts = crossed(drawn(rng, true, (8, 4, 3)))
        for name in true:
            squares[name].append(getattr(parts, name) ** 2)
    for name, sd in true.items():
        mean, error = np.mean(squares[name]), np.std(squares[name]) / 20.0
        # Pooling now and then moves a little of the interaction into repeatability.
        assert abs(mean - sd**2) < 4.0 * error + 0.1 * sd**2, name


def drawn(rng, sds, shape):
    """Parts x set-ups x trials with these standard deviations."""
    parts, setups, _ = shape
    values = sds["repeatability"] * rng.standard_normal(shape)
    values += sds["part"] * rng.standard_normal((parts, 1, 1))
    values += sds["setup"] * rng.standard_normal((1, setups, 1))
    values += sds["interaction"] * rng.standard_normal((parts, setups, 1))
    return values


def test_an_interaction_is_kept_apart_from_noise():
    rng = np.random.default_rng(3)
    sds = {"repeatability": 0.001, "setup": 0.0, "interaction": 0.01, "part": 0.01}
    parts = crossed(drawn(rng, sds, (10, 3, 3)))
    assert not parts.pooled
    assert parts.repeatability == pytest.approx(0.001, rel=0.3)
    assert parts.reproducibility == pytest.approx(0.01, rel=0.5)


def test_values_that_never_change_have_no_spread():
    parts = crossed(np.tile(np.arange(4.0)[:, None, None], (1, 3, 2)))
    assert (parts.grr, parts.reproducibility) == (0.0, 0.0)
    assert parts.part == pytest.approx(np.std(np.arange(4.0), ddof=1))
