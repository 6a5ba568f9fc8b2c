"""Rollers and gears that are not round: exact waves, damping, and what a camera makes of them."""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
import pytest

from regscan.simulator.press.effects import Drive, PlateTerm
from regscan.simulator.press.machine import INFEED, OUTFEED
from regscan.simulator.press.periodic import RollTurn, RoundLine, RoundWave, WaveM
from regscan.simulator.press.register import frames_at, register_of
from tests.simulator.press.presses import STEADY, late, press_of

PLACES = np.arange(60.0, 75.0, 0.03)


@dataclass(frozen=True)
class Plain:
    """The same wave, not known to be one, so that it is solved step by step."""

    wave: WaveM
    size: float = 1.0
    kind: ClassVar[str] = "test"

    def at(self, passage):
        return self.wave.at(passage)


@pytest.mark.parametrize("kind", ["drum_um", "path_um", "incoming_ppm", "drum_ppm", "drag_ppm"])
@pytest.mark.parametrize("metering", [press_of().metering, OUTFEED, INFEED])
def test_waves_agree_with_small_steps(kind, metering):
    machine = press_of(5, [1.0, 1.0, 0.8, 1.2, 1.0], metering, reference=1)
    wave = WaveM(50.0, 1.7, 0.4)
    exact = late(machine, [Drive(kind, 3, wave)], PLACES)
    steps = late(machine, [Drive(kind, 3, Plain(wave))], PLACES)
    np.testing.assert_allclose(steps, exact, atol=0.05)


def test_an_undriven_idler_between_gripping_drums_is_damped():
    # [D] 1/sqrt(1 + (2 pi L/lam)^2): 1/25 for lam 0.25 m, L 1 m.
    rows = late(press_of(), [Drive("path_um", 4, WaveM(100.0, 0.25))], PLACES)
    assert rows[3].max() == pytest.approx(100.0 / np.sqrt(1 + (2 * np.pi / 0.25) ** 2), rel=0.01)
    assert rows[3].max() == pytest.approx(100.0 / 25.0, rel=0.02)


def test_a_gripping_drum_s_run_out_is_not_damped():
    # [D] its own span passes nearly all of it on, being long against the wave.
    rows = late(press_of(), [Drive("drum_um", 4, WaveM(20.0, 0.25))], PLACES)
    assert rows[3].max() == pytest.approx(20.0, rel=0.01)


def strongest_cycles(values):
    """Cycles per frame of the strongest wave in evenly taken values."""
    power = np.abs(np.fft.rfft(values - values.mean())) ** 2
    return np.fft.rfftfreq(values.size)[power.argmax()]


@pytest.mark.parametrize(
    ("wavelength_mm", "repeats_seen", "metres_seen"),
    # [D] table of trade notes 3.3, P = 304.8 mm, one mark per repeat: idler of 80 mm
    # diameter, drum gear of 120 teeth, roller of 300 mm girth.
    [(251.3, 4.70, 1.43), (381.0, 5.00, 1.52), (300.0, 62.5, 19.0)],
)
def test_one_mark_per_repeat_sees_other_wavelengths(wavelength_mm, repeats_seen, metres_seen):
    machine = press_of()
    web = np.arange(200, 2200) * machine.repeat_m
    signal = WaveM(20.0, wavelength_mm / 1000.0)
    effects = [PlateTerm(3, "circumferential", signal)]
    values = register_of(machine, STEADY, effects, frames_at(machine, web)).circumferential_um[2]
    cycles = strongest_cycles(values)
    assert 1.0 / cycles == pytest.approx(repeats_seen, rel=0.01)
    assert machine.repeat_m / cycles == pytest.approx(metres_seen, rel=0.015)


@pytest.mark.parametrize("part", [1, 2, 7, 96])
def test_what_turns_with_the_plate_cylinder_cannot_be_seen_with_one_mark(part):
    # [D] lam = P/n: a constant, at any station.
    machine = press_of()
    web = np.arange(200, 400) * machine.repeat_m
    signal = WaveM(20.0, machine.repeat_m / part, 0.7)
    effects = [PlateTerm(3, "circumferential", signal)]
    values = register_of(machine, STEADY, effects, frames_at(machine, web)).circumferential_um[2]
    assert np.ptp(values) < 1e-6


def test_the_same_wave_is_as_long_in_metres_at_every_speed():
    machine = press_of()
    web = np.arange(200, 900) * machine.repeat_m
    from regscan.simulator.speed import steady

    effects = [Drive("drum_um", 3, WaveM(20.0, 0.381))]
    fast, slow = (
        register_of(machine, steady(v, 60.0), effects, frames_at(machine, web)).circumferential_um
        for v in (150.0, 50.0)
    )
    np.testing.assert_allclose(fast, slow, atol=1e-6)


def test_marks_round_the_repeat_show_a_cylinder_that_is_not_round():
    # [D] 25 um TIR is +-12.5 um in print; c + a cos + b sin from four marks.
    machine = press_of()
    effects = [PlateTerm(3, "circumferential", RoundWave(12.5, machine.repeat_m, phase_rad=0.6))]
    angles = np.arange(4) / 4.0
    web = (100 + angles) * machine.repeat_m
    values = register_of(machine, STEADY, effects, frames_at(machine, web)).circumferential_um[2]
    turn = 2 * np.pi * angles
    a, b = 0.5 * (values @ np.cos(turn)), 0.5 * (values @ np.sin(turn))
    assert np.hypot(a, b) == pytest.approx(12.5, rel=1e-4)
    assert np.arctan2(a, b) == pytest.approx(0.6, abs=1e-3)


def test_a_turned_plate_runs_sideways_round_the_repeat():
    # [D] 0.33 mrad over 200 mm of repeat: 67 um across.
    machine = press_of()
    effects = [PlateTerm(3, "lateral", RoundLine(333.3, machine.repeat_m))]
    web = 100 * machine.repeat_m + np.array([0.05, 0.25])
    lateral = register_of(machine, STEADY, effects, frames_at(machine, web)).lateral_um[2]
    assert lateral[1] - lateral[0] == pytest.approx(66.7, abs=0.1)


def test_the_supply_roll_s_turn_gets_shorter_as_it_unwinds():
    from regscan.simulator.press.passage import passage

    roll = RollTurn(1.0, 0.8, 150.0)
    web = np.arange(0.0, 2000.0, 0.01)
    values = roll.at(passage(STEADY, web))
    tops = web[1:-1][(values[1:-1] > values[:-2]) & (values[1:-1] >= values[2:])]
    lengths = np.diff(tops)
    assert lengths[0] == pytest.approx(np.pi * 0.8, rel=0.01)
    # What is left of the roll: D^2 = D0^2 - 4 h x / pi.
    left = np.sqrt(0.8**2 - 4 * 150e-6 * tops[-1] / np.pi)
    assert lengths[-1] == pytest.approx(np.pi * left, rel=0.01)
