"""The model against the exact mass balance of the web, integrated by somebody else's solver.

For one span (trade notes 1.2), with a path of varying length L:

    d/dt [ L / (1 + eps_i) ] = v_(i-1) / (1 + eps_(i-1)) - v_i / (1 + eps_i)

Nothing is linearised, time is the variable, and register comes from counting the unstrained
web that passed each station. The model works with small strains in metres.
"""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.special import expit

from regscan.simulator.press.effects import Drive
from regscan.simulator.speed import SpeedProfile
from tests.simulator.press.presses import late, press_of

SPANS = np.array([1.0, 1.0, 0.7, 1.3, 1.0])
BASE = 800e-6  # strain of the set-up, 0.08 %: usual tension on PP [M]
RAMP = SpeedProfile((0.0, 30.0, 45.0, 90.0), (150.0, 150.0, 50.0, 50.0))
RELATIVE = 0.003  # what small-strain arithmetic may leave out of a strain near 0.1 %


@dataclass(frozen=True)
class Rise:
    """A smooth step in metres of web."""

    size: float
    at_m: float
    kind: ClassVar[str] = "test"

    def at(self, passage):
        return self.value(passage.web_m)

    def value(self, web_m):
        return self.size * expit((web_m - self.at_m) / 0.15)


@dataclass(frozen=True)
class Swing:
    """A slow wave in seconds that sets in smoothly."""

    size: float
    period_s: float
    kind: ClassVar[str] = "test"

    def at(self, passage):
        return self.value(passage.time_s)

    def value(self, time_s):
        return self.size * expit(time_s - 10.0) * np.sin(2 * np.pi * time_s / self.period_s)


def balance(time_s, tension, drum, path):
    """How much more unstrained web passed each of the five stations than at the set-up, m."""

    def speed_and_web(t):
        at = np.array([t])
        return float(RAMP.speed_at(at)[0]) / 60.0, float(RAMP.web_at(at)[0])

    def lengths(t):
        return SPANS + 1e-6 * np.array([0.0, 0.0, 0.0, path.value(t), 0.0])

    def flows(t, content):
        v, web = speed_and_web(t)
        strain = lengths(t) / np.concatenate([[1.0], content]) - 1.0
        strain[0] = BASE + 1e-6 * tension.value(web)
        surface = np.full(5, v)
        surface[2] *= 1.0 + 1e-6 * drum.value(web)
        return surface / (1.0 + strain), v / (1.0 + BASE)

    def rates(t, state):
        through, usual = flows(t, state[:4])
        return np.concatenate([through[:-1] - through[1:], through - usual])

    start = np.concatenate([SPANS[1:] / (1.0 + BASE), np.zeros(5)])
    done = solve_ivp(rates, (0.0, 85.0), start, t_eval=time_s, rtol=1e-9, atol=1e-11, max_step=0.1)
    assert done.success
    return done.y[4:]


def exact_late_um(places, tension=None, drum=None, path=None):
    """Register of each station against the first, um, when it stood at these metres."""
    nothing = Rise(0.0, 0.0)
    time = np.linspace(0.0, 85.0, 6_001)
    web = RAMP.web_at(time)
    passed = balance(time, tension or nothing, drum or nothing, path or Swing(0.0, 1.0))
    behind = np.cumsum(SPANS) - SPANS[0]
    first = np.interp(places[:, None] - behind, web, passed[0])
    own = np.array([np.interp(places, web, p) for p in passed]).T
    # Nothing had happened at the first place: what is there is the set-up.
    apart = own - first
    return 1e6 * (apart - apart[0]).T


PLACES = np.arange(15.0, 105.0, 0.25)
CASES = {
    "tension in a ramp": {"tension": Rise(150.0, 82.0)},
    "larger drum": {"drum": Rise(100.0, 40.0)},
    "varying path": {"path": Swing(200.0, 3.0)},
    "all at once": {
        "tension": Rise(-120.0, 50.0),
        "drum": Rise(80.0, 70.0),
        "path": Swing(100.0, 2.0),
    },
}
KINDS = {"tension": ("incoming_ppm", 0), "drum": ("drum_ppm", 3), "path": ("path_um", 4)}


@pytest.mark.parametrize("name", CASES)
def test_the_model_agrees_with_the_exact_mass_balance(name):
    case = CASES[name]
    drives = [Drive(*KINDS[key], signal) for key, signal in case.items()]
    model = late(press_of(5, SPANS), drives, PLACES, RAMP)
    model = model - model[:, :1]
    exact = exact_late_um(PLACES, **case)
    largest = np.abs(exact).max()
    assert largest > 30.0
    np.testing.assert_allclose(model, exact, atol=RELATIVE * largest + 0.1)
