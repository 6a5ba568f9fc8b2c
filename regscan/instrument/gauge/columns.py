"""The columns of gauge.csv, declared once, and the table of a study's gauges."""

from collections.abc import Sequence

import numpy as np

from regscan.instrument.gauge.gauge import Gauge
from regscan.offsets.columns import Column
from regscan.offsets.table import table_of

GAUGE_COLUMNS = (
    Column("ink", "U64", "colour by its name in the job"),
    Column("axis", "U16", "circumferential or lateral"),
    Column("camera", "U64", "camera by its name in the job; empty where there is only one"),
    Column("edge", "U16", "web edge of the mark set: operator, drive, or empty"),
    Column("study", "U16", "standing web, one set-up, or crossed"),
    Column("method", "U16", "anova or ranges"),
    Column("positions", "i4", "positions (parts) measured", 0),
    Column("setups", "i4", "set-ups (operators) of each", 0),
    Column("trials", "i4", "trials in each position and set-up", 0),
    Column("tolerance_mm", "f8", "largest offset allowed, to either side", 4),
    Column("repeatability_sd_mm", "f8", "the same position in the same set-up again"),
    Column("reproducibility_sd_mm", "f8", "from set-up to set-up; empty where not studied"),
    Column("grr_sd_mm", "f8", "repeatability and reproducibility together"),
    Column("grr_low_mm", "f8", "lower end of the 95 % interval of grr_sd_mm"),
    Column("grr_high_mm", "f8", "upper end of it"),
    Column("part_sd_mm", "f8", "from position to position; empty where not studied"),
    Column("grr_of_tolerance_percent", "f8", "6 grr_sd_mm over twice tolerance_mm", 2),
    Column("grr_of_total_percent", "f8", "grr_sd_mm over the whole study's sd", 2),
    Column("categories", "f8", "distinct categories, 1.41 part_sd_mm / grr_sd_mm cut off", 0),
    Column("drift_mm", "f8", "straight trend from the first frame to the last"),
    Column("drift_sd_mm", "f8", "one standard deviation of drift_mm"),
    Column("answer", "U24", "acceptable, may be acceptable, or not acceptable"),
)


def gauge_table(gauges: Sequence[Gauge]) -> np.ndarray:
    """A structured array with GAUGE_COLUMNS, one row per colour and axis."""
    return table_of((_row(gauge) for gauge in gauges), GAUGE_COLUMNS)


def _row(gauge: Gauge) -> dict[str, object]:
    parts = gauge.components
    return {
        "ink": gauge.view.ink,
        "axis": gauge.view.axis,
        "camera": gauge.view.camera,
        "edge": gauge.view.edge,
        "study": gauge.kind,
        "method": gauge.method,
        "positions": gauge.parts,
        "setups": gauge.setups,
        "trials": gauge.trials,
        "tolerance_mm": gauge.tolerance_mm,
        "repeatability_sd_mm": parts.repeatability,
        "reproducibility_sd_mm": parts.reproducibility,
        "grr_sd_mm": gauge.grr_mm,
        "grr_low_mm": gauge.grr_low_mm,
        "grr_high_mm": gauge.grr_high_mm,
        "part_sd_mm": parts.part,
        "grr_of_tolerance_percent": gauge.grr_percent,
        "grr_of_total_percent": gauge.grr_percent_of_total,
        "categories": gauge.categories,
        "drift_mm": gauge.drift.total_mm,
        "drift_sd_mm": gauge.drift.sd_mm,
        "answer": gauge.band,
    }
