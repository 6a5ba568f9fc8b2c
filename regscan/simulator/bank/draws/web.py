"""Draws of faults that the web carries, in sizes that presses have (orders of magnitude, [M])."""

import numpy as np

from regscan.simulator.bank.draws.situation import Situation
from regscan.simulator.press.faults.reel import BaggyEdge, GuideHunting, RollChange, Splice
from regscan.simulator.press.faults.tension import (
    AirFilm,
    IdlerDrag,
    RollerRunOut,
    TensionStep,
    UnwindInertia,
)


def _grips(s: Situation) -> bool:
    return s.machine.metering.gripped >= 0.5


def tension_step(s: Situation) -> TensionStep:
    """Quick where drums grip; over some metres where tension is controlled."""
    rise = float(s.rng.uniform(0.0, 2.0)) if _grips(s) else float(s.rng.uniform(10.0, 25.0))
    return TensionStep(s.moment_m(), s.either(s.between(100.0, 300.0)), round(rise, 2))


def unwind_inertia(s: Situation) -> UnwindInertia:
    """The roll alone, or the idlers too."""
    idlers = s.between(100.0, 400.0) if s.chance(0.3) else 0.0
    return UnwindInertia(s.between(800.0, 3000.0), idlers)


def idler_drag(s: Situation) -> IdlerDrag:
    """Mostly everywhere, else in one span."""
    everywhere = s.chance(0.7)
    share = round(float(s.rng.uniform(0.3, 0.8)), 2)
    return IdlerDrag(0 if everywhere else s.span(), s.between(0.2, 1.0), share)


def air_film(s: Situation) -> AirFilm:
    """Somewhere between slow and fast it sets in."""
    low, high = s.slowest, s.fastest
    onset = low + float(s.rng.uniform(0.25, 0.6)) * (high - low)
    station = 0 if s.chance(0.6) else s.span()
    aside = s.between(0.3, 1.5) if s.chance(0.4) else 0.0
    return AirFilm(station, round(onset, 1), s.between(0.2, 1.0), aside)


def roller_run_out(s: Situation) -> RollerRunOut:
    """Damped where drums grip, so that only a bad one is seen there."""
    size = s.between(0.06, 0.3) if _grips(s) else s.between(0.01, 0.05)
    length = s.wavelength_mm(180.0, 600.0)
    return RollerRunOut(s.span(), size, 0.0, length, float(s.rng.uniform(0, 360)))


def guide_hunting(s: Situation) -> GuideHunting:
    """Slow enough for the frames to follow it at every speed."""
    least = 4.0 * s.every_m / (s.slowest / 60.0)
    period = max(s.between(2.5, 12.0), least)
    return GuideHunting(s.between(0.1, 0.5), round(period, 2), float(s.rng.uniform(0, 360)))


def splice(s: Situation) -> Splice:
    """Hits along and across, and gaps."""
    size, side = s.between(0.1, 0.3), s.between(0.05, 0.2)
    length = round(float(s.rng.uniform(1.0, 2.5)), 2)
    jolt = s.either(s.between(80.0, 250.0)) if _grips(s) else 0.0
    return Splice(s.moment_m(), size, side, length, jolt)


def baggy_edge(s: Situation) -> BaggyEdge:
    """A roll somewhere between full and near its core."""
    thick = float(np.round(s.rng.uniform(60.0, 180.0)))
    return BaggyEdge(
        s.either(s.between(150.0, 400.0)), s.between(0.05, 0.2), s.between(0.4, 1.0), thick
    )


def roll_change(s: Situation) -> RollChange:
    """Another strain, another evenness, another place of the web."""
    return RollChange(
        s.moment_m(),
        s.either(s.between(100.0, 300.0)),
        s.either(s.between(50.0, 150.0)),
        s.either(s.between(0.1, 0.3)),
    )
