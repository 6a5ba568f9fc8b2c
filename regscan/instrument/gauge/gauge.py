"""Gauge: what one study says of the instrument, for one colour on one axis."""

import math
from dataclasses import dataclass
from typing import Literal

from regscan.instrument.gauge.anova import Components
from regscan.instrument.gauge.arrange import View

Kind = Literal["standing web", "one set-up", "crossed"]
Method = Literal["anova", "ranges"]
Band = Literal["acceptable", "may be acceptable", "not acceptable"]

WIDTH = 6.0
"""Standard deviations that a spread is wide: 99.73 % of a normal one, as the AIAG manual
(4th ed. 2010, from memory) counts; its earlier editions took 5.15."""
ACCEPTABLE, MARGINAL = 10.0, 30.0
"""Bands of %GRR, AIAG (published): under 10 acceptable, 10 to 30 may be, over 30 not."""
FEWEST_CATEGORIES = 5
CATEGORIES = 1.41  # ndc = 1.41 PV / GRR, truncated (AIAG, published)


@dataclass(frozen=True, slots=True)
class Drift:
    """A straight trend over the study, every part and set-up about its own mean.

    total_mm      from the first frame to the last, with its sd.
    significant   more than chance would make in one of a hundred studies.
    """

    total_mm: float
    sd_mm: float
    significant: bool


@dataclass(frozen=True, slots=True)
class Gauge:
    """Standard deviations are mm; percentages are of the whole tolerance band or of the
    total spread; None: not studied, or not to be known.

    grr_low_mm, grr_high_mm   95 % interval of the GRR standard deviation.
    """

    view: View
    kind: Kind
    method: Method
    parts: int
    setups: int
    trials: int
    tolerance_mm: float
    components: Components
    grr_low_mm: float | None
    grr_high_mm: float | None
    drift: Drift

    @property
    def grr_mm(self) -> float:
        """Repeatability and reproducibility together."""
        return self.components.grr

    def of_tolerance(self, sd_mm: float) -> float:
        """A standard deviation's spread as a percentage of the tolerance band (twice the limit)."""
        return 100.0 * WIDTH * sd_mm / (2.0 * self.tolerance_mm)

    @property
    def grr_percent(self) -> float:
        """%GRR against the tolerance: what the verdict goes by."""
        return self.of_tolerance(self.grr_mm)

    @property
    def grr_percent_of_total(self) -> float | None:
        """%GRR against the study's own total variation."""
        total = self.components.total
        return 100.0 * self.grr_mm / total if total else None

    @property
    def categories(self) -> int | None:
        """Number of distinct categories that the study's parts can be told into."""
        part = self.components.part
        if part is None or self.grr_mm == 0.0:
            return None
        return math.floor(CATEGORIES * part / self.grr_mm)

    @property
    def band(self) -> Band:
        """Where %GRR against the tolerance falls."""
        return band_of(self.grr_percent)


def band_of(percent: float) -> Band:
    """The AIAG band of a %GRR."""
    if percent < ACCEPTABLE:
        return "acceptable"
    return "may be acceptable" if percent <= MARGINAL else "not acceptable"
