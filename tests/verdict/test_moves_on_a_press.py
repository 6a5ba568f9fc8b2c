"""Logs of moves on the press of tests/bench/setting_up, which shares no code with the advice:
what each move did is found, and step, play and direction are learned within their doubt."""

import numpy as np
import pytest
from bench.setting_up.press import STEP_MM, TrueActuator, make_press
from bench.setting_up.rules import job_of, table_from

from regscan.verdict.learn import learn, lessons_of
from regscan.verdict.movelog import Made
from regscan.verdict.seen import within_run

AXES = ("circumferential", "lateral")
STEPS = 15  # 0.15 mm
PACE_M = 1.0


def run(press, commands, frames=90):
    """Frames, a command, frames ...: 27 m each, more than any path to the camera.

    commands   (station noted, axis, steps noted, station that was really moved).
    """
    job = job_of(press)
    looks, made = [press.frames(frames)], []
    for noted, axis, steps, really in commands:
        ink = job.press.stations[noted].ink
        made.append(Made(2, noted + 1, ink, AXES[axis], steps * STEP_MM, steps, press.web_m))
        press.command(really, axis, steps, PACE_M)
        looks.append(press.frames(frames))
    web, offsets = (np.concatenate(parts) for parts in zip(*looks, strict=True))
    return within_run(made, table_from(web, offsets, job), job, "moves.csv"), job


def faulty(seed, gain, play=0.0):
    """A press, one of its stations that is not the reference, and that station's actuators."""
    press = make_press(seed)
    station = (press.reference + 1 + seed) % press.stations
    if station == press.reference:
        station = (station + 1) % press.stations
    press.actuators[station] = [TrueActuator(gain, play, 0.0) for _ in AXES]
    return press, station


@pytest.mark.parametrize(
    ("gain", "answer"),
    [(1.0, "as expected"), (0.95, "as expected"), (0.5, "too little"), (1.6, "too much"),
     (0.0, "no effect"), (-1.0, "wrong way")],
)  # fmt: skip
@pytest.mark.parametrize("axis", [0, 1])
def test_what_a_move_really_did_is_found(gain, answer, axis):
    found = []
    for seed in range(8):  # plates that grip the web, and others
        press, station = faulty(seed, gain)
        effects, _ = run(press, [(station, axis, STEPS if seed % 3 else -STEPS, station)])
        found.append(effects[0].answer)
    assert found == [answer] * len(found)


def test_play_swallows_a_move_that_turns_round():
    press, station = faulty(3, 1.0, play=0.06)
    effects, _ = run(press, [(station, 1, 15, station), (station, 1, -10, station)])
    # It lay against the backward flank, so the first move lost the play as well.
    assert [e.answer for e in effects] == ["too little", "too little"]
    assert effects[1].seen_mm == pytest.approx(-0.04, abs=0.01)


@pytest.mark.parametrize("axis", [0, 1])
def test_the_wrong_station_is_named(axis):
    for seed in range(8):
        press, station = faulty(seed, 1.0)
        others = [k for k in range(press.stations) if k not in (station, press.reference)]
        moved = others[seed % len(others)]
        press.actuators[moved] = [TrueActuator(1.0, 0.0, 0.0) for _ in AXES]
        (effect,), job = run(press, [(station, axis, STEPS, moved)])
        assert effect.answer == "wrong station"
        assert f"{job.press.stations[moved].ink} (station {moved + 1}) did" in effect.why


def test_a_move_of_the_reference_is_told_by_all_others():
    answers = []
    for seed in range(6):
        press = make_press(seed)
        gain = (1.0, -1.0, 0.0)[seed % 3]
        press.actuators[press.reference] = [TrueActuator(gain, 0.0, 0.0) for _ in AXES]
        (effect,), _ = run(press, [(press.reference, 1, STEPS, press.reference)])
        answers.append(effect.answer)
    assert answers == ["as expected", "wrong way", "no effect"] * 2


def test_step_play_and_direction_of_a_press_are_learned_within_their_doubt():
    steps, plays, covered = [], [], 0
    for seed in range(24):
        rng = np.random.default_rng([seed, 9])
        gain, play = rng.uniform(0.85, 1.15) * (-1 if seed % 6 == 5 else 1), rng.uniform(0, 0.05)
        press, station = faulty(seed, gain, play)
        log = [(station, 1, int(n), station) for n in (20, 15, -20, -12, 18, -15, 14, 12)]
        effects, job = run(press, log, frames=80)
        known = learn(lessons_of(effects, "run"), job)[station + 1, "lateral"]
        assert (known.step_mm < 0) == (gain < 0)
        sd = abs(known.step_mm) * known.step_sd
        steps.append((known.step_mm - gain * STEP_MM) / sd)
        covered += abs(steps[-1]) < 1.96
        if gain > 0:
            plays.append((known.play_mm - play) / known.play_sd_mm)
    # 24 samples of a spread of one: 0.71 to 1.29 holds 95 of 100 such counts.
    assert 0.6 < np.std(steps) < 1.4
    assert 0.6 < np.std(plays) < 1.4
    assert covered >= 20  # of 24, where 22.8 are to be expected
