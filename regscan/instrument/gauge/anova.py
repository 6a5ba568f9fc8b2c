"""Components of variance by analysis of variance: one way, and parts x set-ups x trials.

Formulas as in the textbooks and in the AIAG manual on measurement systems (4th ed. 2010),
from memory; tests/instrument/gauge holds them against its published reference data and
against NIST's SiRstv.
"""

import math
from dataclasses import dataclass

import numpy as np

POOL_ABOVE = 0.25
"""An interaction with a larger probability than this is taken as noise. Common practice."""


@dataclass(frozen=True, slots=True)
class Square:
    """One mean square, mm^2, and its degrees of freedom."""

    value: float
    freedom: int


@dataclass(frozen=True, slots=True)
class Components:
    """Standard deviations, mm. None: not studied.

    repeatability     the same part in the same set-up again.
    setup             from set-up to set-up.
    interaction       that differs from part to part; 0 where it was pooled.
    part              from part to part.
    grr_terms         repeatability and reproducibility together as a sum of mean squares,
                      each with its weight in it: what an interval is made of.
    """

    repeatability: float
    setup: float | None
    interaction: float | None
    part: float | None
    pooled: bool = False
    grr_terms: tuple[Square, ...] = ()

    @property
    def reproducibility(self) -> float | None:
        """Set-up and interaction together."""
        if self.setup is None:
            return None
        return math.hypot(self.setup, self.interaction or 0.0)

    @property
    def grr(self) -> float:
        """Repeatability and reproducibility together."""
        return math.hypot(self.repeatability, self.reproducibility or 0.0)

    @property
    def total(self) -> float | None:
        """With the parts."""
        return None if self.part is None else math.hypot(self.grr, self.part)


@dataclass(frozen=True, slots=True)
class OneWay:
    """Between and within groups, and their ratio F with its probability."""

    between: Square
    within: Square
    f: float
    probability: float


def one_way(groups: np.ndarray) -> OneWay:
    """Groups x repeats: is there more between the groups than within?"""
    from scipy.stats import f as f_distribution

    count, repeats = groups.shape
    # About the middle, or large values would eat the digits of their differences.
    groups = groups - groups.mean()
    means = groups.mean(axis=1)
    within = Square(
        float(((groups - means[:, None]) ** 2).sum()) / (count * (repeats - 1)),
        count * (repeats - 1),
    )
    between = Square(repeats * float(((means - means.mean()) ** 2).sum()) / (count - 1), count - 1)
    ratio = between.value / within.value if within.value > 0.0 else math.inf
    probability = float(f_distribution.sf(ratio, between.freedom, within.freedom))
    return OneWay(between, within, ratio, probability)


def one_setup(values: np.ndarray) -> Components:
    """Parts x trials in one set-up: repeatability and parts; reproducibility is not studied."""
    table = one_way(values)
    part = (table.between.value - table.within.value) / values.shape[1]
    return Components(
        repeatability=math.sqrt(table.within.value),
        setup=None,
        interaction=None,
        part=math.sqrt(max(part, 0.0)),
        grr_terms=(table.within,),
    )


@dataclass(frozen=True, slots=True)
class TwoWay:
    """Mean squares of parts x set-ups x trials; probability is that of the interaction."""

    part: Square
    setup: Square
    interaction: Square
    error: Square
    probability: float


def two_way(values: np.ndarray) -> TwoWay:
    """Mean squares; at least two of each."""
    from scipy.stats import f as f_distribution

    parts, setups, trials = values.shape
    values = values - values.mean()
    cells = values.mean(axis=2)
    part, setup = cells.mean(axis=1), cells.mean(axis=0)
    left = cells - part[:, None] - setup[None]
    freedom = (parts - 1) * (setups - 1)
    interaction = Square(trials * float((left**2).sum()) / freedom, freedom)
    free = parts * setups * (trials - 1)
    error = Square(float(((values - cells[:, :, None]) ** 2).sum()) / free, free)
    ratio = interaction.value / error.value if error.value > 0.0 else math.inf
    return TwoWay(
        part=Square(setups * trials * float((part**2).sum()) / (parts - 1), parts - 1),
        setup=Square(parts * trials * float((setup**2).sum()) / (setups - 1), setups - 1),
        interaction=interaction,
        error=error,
        probability=float(f_distribution.sf(ratio, freedom, free)),
    )


def crossed(values: np.ndarray) -> Components:
    """Components of parts x set-ups x trials; an interaction that is noise is pooled with it."""
    parts, setups, trials = values.shape
    table = two_way(values)
    pooled = table.probability > POOL_ABOVE
    mixed = _pool(table.interaction, table.error) if pooled else table.interaction
    error = mixed if pooled else table.error
    interaction = 0.0 if pooled else (mixed.value - error.value) / trials
    setup = (table.setup.value - mixed.value) / (parts * trials)
    part = (table.part.value - mixed.value) / (setups * trials)
    weights = _grr_weights(parts, trials, pooled)
    squares = (table.setup, mixed, error)
    return Components(
        repeatability=math.sqrt(error.value),
        setup=math.sqrt(max(setup, 0.0)),
        interaction=math.sqrt(max(interaction, 0.0)),
        part=math.sqrt(max(part, 0.0)),
        pooled=pooled,
        grr_terms=tuple(
            Square(w * s.value, s.freedom) for w, s in zip(weights, squares, strict=True) if w
        ),
    )


def _pool(one: Square, other: Square) -> Square:
    freedom = one.freedom + other.freedom
    total = one.value * one.freedom + other.value * other.freedom
    return Square(total / freedom, freedom)


def _grr_weights(parts: int, trials: int, pooled: bool) -> tuple[float, float, float]:
    """Repeatability and reproducibility as a sum of mean squares: set-up, interaction, error."""
    of_setup = 1.0 / (parts * trials)
    if pooled:
        return of_setup, 0.0, 1.0 - of_setup
    return of_setup, 1.0 / trials - of_setup, 1.0 - 1.0 / trials
