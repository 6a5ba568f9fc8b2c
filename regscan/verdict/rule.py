"""In register, out of tolerance, or cannot be decided: the rule for one offset.

Rule: prove conformity, as ISO 14253-1 has it (stated from memory, not quoted):
doubt counts against whoever must prove. Probabilities as in JCGM 106:2012 (from
memory too). Numbers this is checked against: tests/verdict/test_rule.py.
"""

import math
from statistics import NormalDist

from regscan.job.rules import Decision
from regscan.verdict.verdict import Answer

CONFIDENCE = 0.95
FACTOR = NormalDist().inv_cdf(CONFIDENCE)  # 1.6449, one-sided
LAST_DIGIT_MM = 9  # decimals kept, so that a value on the edge is not judged by rounding noise


def factor(confidence: float) -> float:
    """How many standard deviations one-sided certainty of that size takes; 1.6449 for 95 %."""
    return NormalDist().inv_cdf(confidence)


def judge(
    offset_mm: float,
    sd_mm: float,
    limit_mm: float,
    decision: Decision = "prove conformity",
    confidence: float = CONFIDENCE,
) -> Answer:
    """The answer for one settled offset with its standard deviation, against +-limit_mm.

    prove conformity     in register when the true offset lies within the limits with at
                         least that probability (for doubt small against the limit:
                         |offset| + 1.6449 sd within it at 95 %); out of tolerance when
                         |offset| - 1.6449 sd lies beyond the limit; else it cannot be decided.
    prove nonconformity  out of tolerance when that is proven; else in register.
    simple acceptance    |offset| within the limit or not; doubt has no say.

    For NaN it cannot be decided, whatever the decision.
    """
    offset, limit = round(abs(offset_mm), LAST_DIGIT_MM), round(limit_mm, LAST_DIGIT_MM)
    if not (math.isfinite(offset) and math.isfinite(sd_mm) and sd_mm >= 0.0):
        return "cannot be decided"
    if decision == "simple acceptance":
        return "in register" if offset <= limit else "out of tolerance"
    if round(offset - factor(confidence) * sd_mm, LAST_DIGIT_MM) > limit:
        return "out of tolerance"
    proven = conformance(offset, sd_mm, limit) >= confidence
    return "in register" if proven or decision == "prove nonconformity" else "cannot be decided"


def conformance(offset_mm: float, sd_mm: float, limit_mm: float) -> float:
    """Probability that the true offset lies within +-limit_mm: Phi((T-y)/u) - Phi((-T-y)/u)."""
    if sd_mm == 0.0:
        return 1.0 if abs(offset_mm) <= limit_mm else 0.0
    normal = NormalDist()
    return normal.cdf((limit_mm - offset_mm) / sd_mm) - normal.cdf((-limit_mm - offset_mm) / sd_mm)


def small_sample(freedom: float) -> float:
    """How much larger a doubt estimated from few frames counts, so that 95 % stays 95 %.

    freedom   independent frames the doubt was estimated from, less one; at least 1.

    The ratio of Student's 95 % quantile to the normal one (JCGM 100:2008, G.3), by the
    Cornish-Fisher series; within 1 % from three degrees of freedom on.
    """
    z, nu = FACTOR, max(freedom, 1.0)
    first = (z**3 + z) / 4.0
    second = (5.0 * z**5 + 16.0 * z**3 + 3.0 * z) / 96.0
    third = (3.0 * z**7 + 19.0 * z**5 + 17.0 * z**3 - 15.0 * z) / 384.0
    return 1.0 + (first / nu + second / nu**2 + third / nu**3) / z
