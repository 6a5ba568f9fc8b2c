"""Conditions on a finding that a sign may ask for, each the logarithm of how well it is met.

Sizes and time constants are orders of magnitude of the trade (common practice, no source).
"""

import math
from collections.abc import Callable

from regscan.drift.behaviour import Finding

MINUTE_S = 60.0
NOT_AT_ALL = -30.0


def setting(finding: Finding, name: str) -> float | None:
    """A setting of the finding's term."""
    for one in finding.term.settings:
        if one.name == name:
            return one.estimate.value
    return None


def _event(finding: Finding) -> float:
    return 0.0 if setting(finding, "at_m") is not None else NOT_AT_ALL


def _by_acceleration(finding: Finding) -> float:
    return 0.0 if finding.term.unit == "ppm per m/s2" else NOT_AT_ALL


def _by_speed(finding: Finding) -> float:
    return 0.0 if finding.term.unit.startswith("ppm per m/min") else NOT_AT_ALL


def _plain_dose(finding: Finding) -> float:
    """All of it at once: what a lamp's light does to the film as it passes."""
    return 0.0 if setting(finding, "tau_s") is None else -2.0


def _warming_dose(finding: Finding) -> float:
    return -2.0 if setting(finding, "tau_s") is None else 0.0


def _late(finding: Finding) -> float:
    return 0.0 if finding.term.size.value > 0.0 else -4.0


def _lamp(finding: Finding) -> float:
    """Late, and within 2 to 15 minutes or so."""
    tau = setting(finding, "tau_s")
    if tau is None:
        return _late(finding)
    return _late(finding) - _beyond(tau / MINUTE_S, 1.0, 12.0)


def _drum(finding: Finding) -> float:
    """Either way, in 8 to 40 minutes."""
    tau = setting(finding, "tau_s")
    return -0.7 if tau is None else -_beyond(tau / MINUTE_S, 8.0, 40.0) - 0.7


def _small(finding: Finding) -> float:
    """5 to 30 um."""
    return -_beyond(abs(finding.term.size.value), 0.005, 0.035)


def _large(finding: Finding) -> float:
    """From 40 um on."""
    return -_beyond(abs(finding.term.size.value), 0.035, 1.0)


def _gear(finding: Finding) -> float:
    """Amplitudes from 8 um on; what a roller leaves among gripping drums is mostly less."""
    return -_beyond(abs(finding.term.size.value), 0.008, 1.0)


def _beyond(value: float, low: float, high: float) -> float:
    """How far outside a range, in the logarithm, on a scale where a factor of 1.3 costs 1."""
    if value <= 0.0:
        return 3.0
    outside = max(math.log(low / value), math.log(value / high), 0.0)
    return min(outside / math.log(1.3), 8.0)


CONDITIONS: dict[str, Callable[[Finding], float]] = {
    "": lambda finding: 0.0,
    "event": _event,
    "by acceleration": _by_acceleration,
    "by speed": _by_speed,
    "plain dose": _plain_dose,
    "warming dose": _warming_dose,
    "late": _late,
    "lamp": _lamp,
    "drum": _drum,
    "small": _small,
    "large": _large,
    "gear": _gear,
}
