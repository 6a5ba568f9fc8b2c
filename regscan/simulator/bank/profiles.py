"""Speed profiles of the bank: holds and ramps that use up a given length of web."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regscan.simulator.speed import SpeedProfile
from regscan.units import m_per_s

RAMP_SHARE = 0.5  # of the web at most is spent in ramps
FASTEST_RATE = 0.5  # m/s^2; 0.083 is 100 m/min in 20 s


@dataclass(frozen=True, slots=True)
class Course:
    """Speeds held one after the other, and how the web gets from each to the next.

    levels_m_min    speeds held; rates_m_s2   one for each change between them.
    weights         how the time of the holds is shared out; None: no holds, the ramps are
                    so slow that they take all the web.
    """

    levels_m_min: tuple[float, ...]
    rates_m_s2: tuple[float, ...]
    weights: tuple[float, ...] | None


def course_profile(course: Course, length_m: float) -> SpeedProfile:
    """The profile that runs length_m of web; rates are raised where ramps would take too much."""
    speeds = np.array([m_per_s(v) for v in course.levels_m_min])
    squares = np.abs(np.diff(speeds**2)) / 2.0
    rates = np.array(course.rates_m_s2)
    ramps_m = float(np.sum(squares / rates))
    if course.weights is None:
        rates, ramps_m = rates * ramps_m / length_m, length_m
    elif ramps_m > RAMP_SHARE * length_m:
        rates, ramps_m = rates * ramps_m / (RAMP_SHARE * length_m), RAMP_SHARE * length_m
    weights = np.array(course.weights or (1.0,) * speeds.size)
    holds_s = weights * (length_m - ramps_m) / float(np.sum(weights * speeds))
    clock, points = 0.0, [(0.0, course.levels_m_min[0])]
    for k, level in enumerate(course.levels_m_min):
        if k:
            clock += float(abs(speeds[k] - speeds[k - 1]) / rates[k - 1])
            points.append((clock, level))
        if holds_s[k] > 0.0:
            clock += float(holds_s[k])
            points.append((clock, level))
    times, values = zip(*points, strict=True)
    return SpeedProfile(times, values)


def random_course(rng: np.random.Generator, *, two_rates: bool, holds: bool) -> Course:
    """Down and up again, once to three times, or over a level in between."""
    fast, slow = float(rng.uniform(110, 180)), float(rng.uniform(35, 65))
    middle = float(rng.uniform(slow + 15, fast - 15))
    shapes = {
        "once": (fast, slow, fast),
        "twice": (fast, slow, fast, slow, fast),
        "from below": (slow, fast, slow, fast),
        "stairs": (fast, middle, slow, middle, fast),
        "over a level": (fast, slow, fast, middle, fast),
    }
    names = [name for name in shapes if not (two_rates and name == "once")]
    levels = tuple(round(v, 1) for v in shapes[str(rng.choice(names))])
    rates = _rates(rng, len(levels) - 1, two_rates)
    weights = tuple(rng.uniform(0.6, 1.6, len(levels)).tolist()) if holds else None
    return Course(levels, rates, weights)


def _rates(rng: np.random.Generator, changes: int, two: bool) -> tuple[float, ...]:
    """One rate, or a gentle and a sharp one by turns, each for a way down and a way up."""
    gentle = float(np.exp(rng.uniform(np.log(0.04), np.log(0.1))))
    sharp = min(gentle * float(rng.uniform(2.0, 3.5)), FASTEST_RATE)
    pair = (gentle, sharp) if rng.random() < 0.5 else (sharp, gentle)
    return tuple((pair if two else (gentle,) * 2)[(k // 2) % 2] for k in range(changes))


def steady_course(rng: np.random.Generator) -> Course:
    """One speed throughout."""
    return Course((round(float(rng.uniform(60, 160)), 1),), (), (1.0,))


def slowest_rate(profile: SpeedProfile) -> float:
    """The gentlest slow-down there is, m/s^2; 0 where the web never slows down."""
    gains = _gains(profile.times_s, profile.speeds_m_min)
    falls = -gains[gains < 0.0]
    return float(falls.min()) if falls.size else 0.0


def _gains(times: Sequence[float], speeds: Sequence[float]) -> np.ndarray:
    return np.asarray(np.diff([m_per_s(v) for v in speeds]) / np.diff(times))
