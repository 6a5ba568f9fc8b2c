"""Gauges: bands, intervals that hold what they claim, drift that is not called out of nothing."""

from dataclasses import replace

import numpy as np
import pytest

from regscan.errors import BadStudy
from regscan.instrument.gauge.anova import Components
from regscan.instrument.gauge.arrange import View
from regscan.instrument.gauge.columns import GAUGE_COLUMNS, gauge_table
from regscan.instrument.gauge.gauge import Drift, Gauge, band_of
from regscan.instrument.gauge.judge import drift_of, judge, remarks, verdict
from regscan.instrument.gauge.study import Study
from regscan.job.job import Tolerance
from tests.instrument.gauge.reference import MSA
from tests.instrument.gauge.test_components import drawn
from tests.marks.conftest import six_colours

JOB = six_colours()
CYAN, BROWN = View("cyan", "circumferential"), View("brown", "lateral")


def study_of(values):
    order = np.broadcast_to(np.arange(values.shape[2]), values.shape)
    names = [tuple(str(k) for k in range(n)) for n in values.shape[:2]]
    return Study(names[0], names[1], values, order)


def judged(values, job=JOB, method="anova", view=CYAN):
    (gauge,) = judge({view: study_of(values)}, job, method, "study.csv")
    return gauge


@pytest.mark.parametrize(
    ("percent", "band"),
    [
        (0.0, "acceptable"),
        (9.999, "acceptable"),
        (10.0, "may be acceptable"),
        (30.0, "may be acceptable"),
        (30.001, "not acceptable"),
        (200.0, "not acceptable"),
    ],
)
def test_the_bands(percent, band):
    """AIAG, published: under 10 % acceptable, 10 to 30 % may be, over 30 % not."""
    assert band_of(percent) == band


def test_the_msa_data_as_a_gauge():
    # Millimetres instead of the manual's unit; a tolerance of +-3 is 6 wide: 6 sd over it.
    job = replace(JOB, tolerance=Tolerance(3.0, 3.0))
    gauge = judged(MSA, job)
    assert (gauge.kind, gauge.parts, gauge.setups, gauge.trials) == ("crossed", 10, 3, 3)
    assert gauge.grr_percent == pytest.approx(30.237, abs=5e-4)
    assert gauge.grr_percent_of_total == pytest.approx(27.86, abs=0.005)
    assert gauge.categories == 4
    assert gauge.band == "not acceptable"
    ranges = judged(MSA, job, "ranges")
    assert ranges.categories == 5
    assert ranges.grr_low_mm is None


def test_the_tolerance_is_the_inks_own_on_that_axis():
    job = replace(JOB, ink_tolerances={"brown": Tolerance(0.2, 0.05)})
    values = drawn(np.random.default_rng(1), SDS, (4, 2, 3))
    assert judged(values, job, view=BROWN).tolerance_mm == 0.05
    assert judged(values, job).tolerance_mm == 0.1


SDS = {"repeatability": 0.002, "setup": 0.003, "interaction": 0.0, "part": 0.02}


@pytest.mark.parametrize(
    ("shape", "sds"),
    [
        ((1, 1, 20), {**SDS, "setup": 0.0, "part": 0.0}),
        ((6, 3, 3), {**SDS, "setup": 0.001}),
        ((6, 4, 2), SDS),
        ((5, 3, 3), {**SDS, "interaction": 0.003}),
    ],
)
def test_the_interval_holds_the_true_spread_19_times_in_20(shape, sds):
    """An approximation where several mean squares are summed: 92 to 98 % here."""
    rng = np.random.default_rng(8)
    true = np.sqrt(sds["repeatability"] ** 2 + sds["setup"] ** 2 + sds["interaction"] ** 2)
    inside = []
    for _ in range(600):
        gauge = judged(drawn(rng, sds, shape))
        inside.append(gauge.grr_low_mm <= true <= gauge.grr_high_mm)
    assert 0.92 < np.mean(inside) < 0.98


def test_drift_is_called_rarely_without_one_and_seen_with_one():
    rng = np.random.default_rng(4)
    calls, pulls = 0, []
    for _ in range(600):
        drift = drift_of(study_of(drawn(rng, SDS, (3, 2, 4))))
        calls += drift.significant
        pulls.append(drift.total_mm / drift.sd_mm)
    assert calls <= 14  # 6 expected at one in a hundred
    assert 0.9 < np.std(pulls) < 1.2  # Student's t of 17 degrees: 1.06
    values = 0.002 * rng.standard_normal((1, 1, 30)) + np.linspace(0.0, 0.01, 30)
    drift = drift_of(study_of(values))
    assert drift.significant
    assert drift.total_mm == pytest.approx(0.01, abs=3.0 * drift.sd_mm)


def test_drift_knows_nothing_of_the_positions():
    """A position further on may lie elsewhere: only what moves within it counts."""
    values = np.zeros((5, 1, 3)) + np.arange(5.0)[:, None, None]
    assert drift_of(study_of(values)).total_mm == 0.0


def gauge_of(grr_mm, view=CYAN, part=None, setup=0.0):
    parts = Components(grr_mm, setup, 0.0 if setup is not None else None, part)
    kind = "crossed" if part is not None else "standing web"
    size = (10, 3, 3) if part is not None else (1, 1, 30)
    return Gauge(view, kind, "anova", *size, 0.1, parts, None, None, Drift(0.0, 0.001, False))


def test_the_verdict_is_the_worst_ones():
    # 0.1 mm to either side: GRR sd of 1 um is 3 %.
    band, said = verdict([gauge_of(0.001), gauge_of(0.005, BROWN)])
    assert band == "may be acceptable"
    assert "brown, lateral" in said
    assert "15.0 % of the tolerance of ±0.100 mm" in said
    assert verdict([gauge_of(0.001)])[1].startswith("Good enough for this tolerance")
    assert verdict([gauge_of(0.02)])[1].startswith("Not good enough")


def test_what_the_study_cannot_say_is_said():
    said = " / ".join(remarks([gauge_of(0.001, setup=None)], ["white"]))
    assert "white: not measured in any frame" in said
    assert "repeatability alone" in said
    said = " / ".join(remarks([gauge_of(0.001, part=0.002)], []))
    assert "fewer than 5 distinct categories (cyan, circumferential)" in said
    drifting = replace(gauge_of(0.001, part=0.1), drift=Drift(0.012, 0.002, True))
    assert "drifts +0.0120 ±0.0020 mm" in " / ".join(remarks([drifting], []))


def test_ranges_of_many_values_are_refused():
    with pytest.raises(BadStudy, match="use --method anova"):
        judged(np.zeros((3, 2, 11)), method="ranges")
    with pytest.raises(BadStudy, match="use --method anova"):
        judged(np.zeros((1, 1, 30)), method="ranges")


def test_the_table_says_what_the_gauge_says():
    table = gauge_table([judged(MSA), gauge_of(0.001, setup=None)])
    assert table.dtype.names == tuple(column.name for column in GAUGE_COLUMNS)
    assert table["grr_sd_mm"][0] == pytest.approx(0.30237, abs=5e-6)
    assert table["study"].tolist() == ["crossed", "standing web"]
    # Not studied is not known, never zero.
    assert np.isnan(table["reproducibility_sd_mm"][1])
    assert np.isnan(table["categories"][1])
