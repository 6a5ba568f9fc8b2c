"""The worked checks of the register equation.

Marks: [D] derived from the mass balance of the web; [D*] also confirmed by an independent
non-linear simulation; [M] common practice, no source. Numbers are those of the project's
trade notes, sections 1.4, 1.5 and 2; test_mass_balance.py integrates the balance anew.
"""

import math

import numpy as np
import pytest
from scipy.stats import gamma

from regscan.simulator.press.effects import Drive, PlateTerm
from regscan.simulator.press.machine import INFEED, OUTFEED
from regscan.simulator.press.register import frames_at, register_of
from regscan.simulator.press.signals import Always, StepAt
from tests.simulator.press.presses import STEADY, late, press_of

PRESS = press_of()
AT = 100.0
# A jump is smeared over one step of the model, 5 mm here: 0.25 % of it at most.


def along(metres=12.0):
    return AT + np.arange(0.0, metres, 0.01)


def incoming(ppm):
    return [Drive("incoming_ppm", 0, StepAt(ppm, AT))]


def test_a_strain_step_makes_an_early_dip_of_36_8_um_at_one_metre():
    web = along()
    second = late(PRESS, incoming(100.0), web)[1]
    x = web - AT
    # [D] e = L eps ((1 - exp(-x/L)) - min(x/L, 1)); [D*] -36.70 um at 1.00 m.
    exact = 100.0 * ((1.0 - np.exp(-x)) - np.minimum(x, 1.0))
    np.testing.assert_allclose(second, exact, atol=0.3)
    assert second.min() == pytest.approx(-36.8, abs=0.2)
    assert x[second.argmin()] == pytest.approx(1.0, abs=0.05)


def test_a_strain_step_returns_to_nothing():
    # [D] Laplace: the register's answer to a strain step tends to 0 for s -> 0.
    assert np.abs(late(PRESS, incoming(100.0), [AT + 30.0])).max() < 0.01


def test_the_dip_grows_down_the_press_as_published():
    # [D*] k spans on, at x = k L: 36.8, 54.1, 67.2, 78.1, 87.7, 96.4, 104.3 um.
    web = along()
    rows = late(PRESS, incoming(100.0), web)
    dips = -rows[1:].min(axis=1)
    assert dips == pytest.approx([36.8, 54.1, 67.2, 78.1, 87.7, 96.4, 104.3], abs=0.25)
    places = web[rows[1:].argmin(axis=1)] - AT
    assert places == pytest.approx(np.arange(1.0, 8.0), abs=0.06)


def test_the_size_of_the_dip_is_the_sum_of_gamma_tails():
    # [D] L eps * sum over j = 1..k of P(Gamma(j) > k).
    expected = [100.0 * sum(gamma.sf(k, j) for j in range(1, k + 1)) for k in range(1, 8)]
    assert expected == pytest.approx([36.8, 54.1, 67.2, 78.1, 87.7, 96.4, 104.3], abs=0.1)


def test_a_ramp_through_the_dip_changes_nothing_in_metres():
    # [D*] peak -36.69 um with a ramp to a third of the speed, -36.70 without.
    from regscan.simulator.speed import SpeedProfile

    falling = SpeedProfile((0.0, 39.9, 41.5, 400.0), (150.0, 150.0, 50.0, 50.0))
    assert falling.speed_at(falling.time_at(np.array([AT - 0.3, AT + 5.0]))) == pytest.approx(
        [150.0, 50.0], abs=4.0
    )
    web = along()
    np.testing.assert_allclose(
        late(PRESS, incoming(100.0), web, falling), late(PRESS, incoming(100.0), web), atol=1e-6
    )


def test_one_larger_drum_makes_a_stair():
    # [D*] stations >= i late by +100 um; steel 5 K warmer = 58 ppm = 58 um [M].
    rows = late(PRESS, [Drive("drum_ppm", 4, Always(100.0))], [AT])[:, 0]
    assert rows == pytest.approx([0, 0, 0, 100, 100, 100, 100, 100], abs=0.01)


def test_one_larger_drum_takes_metres_of_web_to_its_stair():
    rows = late(PRESS, [Drive("drum_ppm", 4, StepAt(100.0, AT))], [AT, AT + 1.0, AT + 30.0])
    # [D] its own span fills up as 1 - exp(-x/L).
    assert rows[3] == pytest.approx([0.0, 63.2, 100.0], abs=0.5)


def test_all_drums_larger_make_a_fan():
    # [D*] +100 um per span: 100 .. 700.
    rows = late(PRESS, [Drive("drum_ppm", 0, Always(100.0))], [AT])[:, 0]
    assert rows == pytest.approx(np.arange(8) * 100.0, abs=0.01)


def test_a_plate_advanced_while_it_grips_moves_its_neighbours():
    # [D*] own -d (1 - exp(-x/L)); next +d (x/L) exp(-x/L); after +d (x/L)^2/2 exp(-x/L).
    d = 100.0
    effects = [
        PlateTerm(4, "circumferential", StepAt(-d, AT)),
        Drive("drum_um", 4, StepAt(d, AT)),
    ]
    x = np.arange(0.2, 8.0, 0.1)
    rows = late(PRESS, effects, AT + x)
    assert rows[:3] == pytest.approx(0.0, abs=1e-9)
    np.testing.assert_allclose(rows[3], -d * (1.0 - np.exp(-x)), atol=0.5)
    np.testing.assert_allclose(rows[4], d * x * np.exp(-x), atol=0.5)
    np.testing.assert_allclose(rows[5], d * x**2 / 2.0 * np.exp(-x), atol=0.5)
    assert rows[4].max() == pytest.approx(36.8, abs=0.3)
    assert rows[5].max() == pytest.approx(27.0, abs=0.3)


def test_a_plate_that_only_prints_moves_alone_and_at_once():
    rows = late(PRESS, [PlateTerm(4, "circumferential", StepAt(-100.0, AT))], [AT - 0.1, AT + 0.1])
    assert rows[3].tolist() == [0.0, -100.0]
    assert np.abs(np.delete(rows, 3, axis=0)).max() == 0.0


def test_a_hot_zone_makes_everything_after_it_late():
    # [D] e = alpha dT l: PET 17 ppm/K [M], 20 K, 0.5 m: 170 um.
    rows = late(PRESS, [Drive("hot_um", 3, Always(17.0 * 20.0 * 0.5))], [AT])[:, 0]
    assert rows == pytest.approx([0, 0, 170, 170, 170, 170, 170, 170], abs=0.01)


def test_shrinkage_makes_everything_after_it_late_and_tighter():
    # [D] e = s x_d: 0.1 % at 0.3 m: 300 um; tension strain of the spans after rises by s.
    rows = late(PRESS, [Drive("shrink_ppm", 3, Always(1000.0), share=0.3)], [AT])[:, 0]
    assert rows == pytest.approx([0, 0, 300, 300, 300, 300, 300, 300], abs=0.01)


@pytest.mark.parametrize(
    ("metering", "per_span"),
    # [D] every drum grips: none; only outfeed meters: none; only infeed meters: fan of L eps.
    [(press_of().metering, 0.0), (OUTFEED, 0.0), (INFEED, 100.0)],
)
def test_what_meters_the_web_decides_what_a_uniform_strain_does(metering, per_span):
    rows = late(press_of(metering=metering), [Drive("incoming_ppm", 0, Always(100.0))], [AT])
    assert rows[:, 0] == pytest.approx(np.arange(8) * per_span, abs=0.01)


def test_with_an_outfeed_that_meters_only_differences_of_strain_last():
    # [D] e of one span = L (eps_i - eps_out): an idler that drags in span 5 leaves all spans
    # before it 100 ppm slacker, and its own by half of that.
    drag = Drive("drag_ppm", 5, Always(100.0), share=0.5)
    rows = late(press_of(metering=OUTFEED), [drag], [AT])[:, 0]
    assert np.diff(rows) == pytest.approx([-100, -100, -100, -50, 0, 0, 0], abs=0.01)


def test_mixed_layouts_weigh_their_answers():
    from regscan.simulator.press.machine import Metering

    machine = press_of(metering=Metering(0.6, 0.1, 0.3))
    rows = late(machine, [Drive("incoming_ppm", 0, Always(100.0))], [AT])[:, 0]
    assert rows == pytest.approx(np.arange(8) * 30.0, abs=0.01)


def test_the_reference_may_stand_anywhere():
    # What 4 says of 2 is minus what 2 says of 4, each when it printed.
    drive = [Drive("drum_ppm", 3, Always(100.0))]
    first = late(PRESS, drive, [AT])[:, 0]
    fourth = late(press_of(reference=3), drive, [AT])[:, 0]
    assert fourth == pytest.approx(first - first[3], abs=0.01)


def test_a_sideways_step_gives_a_blip_of_two_signs():
    # [D] -0.632 y0 just before x = L, +0.368 y0 just after, then it dies away.
    from tests.simulator.press.presses import printed

    step = [Drive("side_um", 0, StepAt(100.0, AT))]
    places = AT + np.array([0.95, 1.05, 12.0])
    lateral = printed(PRESS, step, places)["lateral"]
    exact = [-100.0 * (1 - math.exp(-0.95)), 100.0 * math.exp(-1.05), 0.0]
    assert lateral[1] == pytest.approx(exact, abs=0.5)
    near = AT + np.arange(0.0, 3.0, 0.005)
    second = printed(PRESS, step, near)["lateral"][1]
    assert second.min() == pytest.approx(-63.2, abs=0.5)
    assert second.max() == pytest.approx(36.8, abs=0.5)


def test_a_skewed_drum_shifts_the_web_for_good():
    # [D] y_i = y_(i-1) + L theta: 0.1 mrad over a metre is 100 um, and 0.1 mm of register.
    from tests.simulator.press.presses import printed

    rows = printed(PRESS, [Drive("roller_urad", 3, Always(100.0))], [AT])["lateral"][:, 0]
    assert rows == pytest.approx([0, 0, -100, -100, -100, -100, -100, -100], abs=0.01)


def test_wander_slow_against_the_spans_cancels():
    from regscan.simulator.press.periodic import WaveS
    from tests.simulator.press.presses import printed

    hunt = [Drive("side_um", 0, WaveS(1000.0, 40.0))]
    places = np.arange(100.0, 300.0, 0.5)
    rows = printed(PRESS, hunt, places)["lateral"]
    # [D] amplitude y |1/(1 + i w tau) - exp(-i w tau)|, tau = 0.4 s at 150 m/min.
    turn = 2j * math.pi / 40.0 * 0.4
    expected = 1000.0 * abs(1.0 / (1.0 + turn) - np.exp(-turn))
    assert expected < 3.0
    assert rows[1].max() == pytest.approx(expected, rel=0.05)


def test_width_goes_with_the_strain_at_each_station():
    # [D] gap(i) - gap(j) = nu (eps_i - eps_j) W: 500 ppm x 0.3 x 300 mm = 45 um.
    from tests.simulator.press.presses import printed

    machine = press_of(spacing_mm=300.0)
    effects = [Drive("drum_ppm", 4, Always(500.0)), Drive("drum_ppm", 5, Always(500.0))]
    width = printed(machine, effects, [AT])["width"][:, 0]
    assert width[3] - width[0] == pytest.approx(45.0, abs=0.01)


def test_a_frame_shows_marks_of_different_age():
    # [D] e(frame at x) = f_i(x - d_i) - f_r(x - d_r): a step of a plate at 100 m is seen when
    # the web path from its station to the camera has passed as well; that of the reference too.
    machine = press_of()
    web = np.arange(95.0, 110.0, 0.1)
    ages = machine.age_m()
    assert ages.tolist() == [7.0, 6.0, 5.0, 4.0, 3.0, 2.0, 1.0, 0.0]
    for station, sign in ((3, 1.0), (1, -1.0)):
        effects = [PlateTerm(station, "circumferential", StepAt(50.0, AT))]
        rows = register_of(machine, STEADY, effects, frames_at(machine, web)).circumferential_um
        shown = web >= AT + ages[station - 1]
        for other in {2} if station == 3 else set(range(1, 8)):
            assert rows[other] == pytest.approx(np.where(shown, sign * 50.0, 0.0))
