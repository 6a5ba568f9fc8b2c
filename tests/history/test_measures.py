"""What one run says of each station: from its model, and from the levels of its holds alone."""

from dataclasses import replace

import numpy as np
import pytest
from drift.presses import JOB
from drift.profiles import DOWN_UP

from regscan.drift.behaviour import Behaviour, Behaviours, Estimate, Term
from regscan.history.holds import _Hold, terms
from regscan.history.keep import keep_folder
from regscan.history.measures import readings_of
from regscan.history.start import usual_of
from tests.history.invented import measured_run


def of(readings, ink, measure, axis="circumferential"):
    (one,) = [r for r in readings if (r.ink, r.measure, r.axis) == (ink, measure, axis)]
    return one


def size(value, sd=0.001):
    return Estimate(value, sd, value - 2 * sd, value + 2 * sd)


def behaviour(ink, *terms, channel="circumferential"):
    return Behaviour(2, ink, channel, size(0.0), tuple(terms), 0.008, 2.0)


def with_model(*stations):
    run = measured_run(1, 0)
    told = Behaviours("", ("",), tuple(stations), (), ())
    return replace(run, drift=replace(run.drift, behaviours=told))


def test_the_models_terms_become_readings_in_their_units():
    run = with_model(
        behaviour(
            "cyan",
            Term("speed", size(-2e-4, 1e-5), "mm per m/min", (), 0.02),
            Term("two levels", size(-0.03, 0.002), "mm", (), 0.03),
            Term("warm-up", size(0.05, 0.004), "mm", (), 0.05),
        )
    )
    found = readings_of(run)
    speed = of(found, "cyan", "speed term")
    assert (speed.value, speed.sd) == (pytest.approx(-0.02), pytest.approx(0.001))
    assert of(found, "cyan", "play").value == 0.03  # a distance has no sign
    assert of(found, "cyan", "warm-up").value == 0.05
    noise = of(found, "cyan", "noise")
    frames = run.inputs.frames_used
    assert noise.sd == pytest.approx(0.008 / np.sqrt(2 * frames / 2.0))


def test_what_the_run_could_have_shown_and_did_not_is_small_and_not_unknown():
    found = readings_of(with_model(behaviour("cyan")))  # down and up again, 400 s
    for measure in ("speed term", "play", "warm-up"):
        assert of(found, "cyan", measure).value is None


def test_what_the_run_cannot_show_has_no_reading():
    run = with_model(behaviour("cyan"))
    (hold, *_) = run.drift.segments
    still = replace(run, drift=replace(run.drift, segments=(hold,)))  # 120 s at one speed
    assert {r.measure for r in readings_of(still)} == {"noise"}


def test_the_reference_skew_and_width_have_no_readings():
    run = with_model(behaviour("black"), behaviour("cyan", channel="skew"))
    assert readings_of(run) == ()


def test_from_holds_alone_the_speed_term_and_the_noise_are_found_within_their_doubt():
    """40 runs of 0.03 mm per 100 m/min and 0.008 mm noise: pulls near one (truth: the maker)."""
    pulls, noises = [], []
    for seed in range(40):
        run = measured_run(
            seed, 0, truth={"cyan": lambda t: (3e-4 * (DOWN_UP.speed(t) - 70), 0 * t)}
        )
        run = replace(run, drift=replace(run.drift, behaviours=None))
        found = readings_of(run)
        speed = of(found, "cyan", "speed term")
        pulls.append((speed.value - 0.03) / speed.sd)
        noises.append(of(found, "cyan", "noise"))
    assert 0.6 < np.std(pulls) < 1.5
    assert abs(np.mean(pulls)) < 0.5
    assert np.mean([n.value for n in noises]) == pytest.approx(0.008, rel=0.05)
    spread = np.std([n.value for n in noises], ddof=1)
    assert 0.5 < spread / np.mean([n.sd for n in noises]) < 1.6


def holds(*values):
    """(mean, speed, side)"""
    return [_Hold(mean, 0.001, speed, side) for mean, speed, side in values]


def test_holds_tell_speed_warmth_and_play_apart_where_they_can():
    """mean = 0.02 v/100 + 0.03 w + 0.01 side/2, worked by hand."""
    told = {
        measure: value
        for measure, value, _ in terms(
            holds(
                (0.0300, 150, 0),
                (0.0200 + 0.0060 + 0.005, 100, 1),
                (0.0100 + 0.0120 + 0.005, 50, 1),
                (0.0200 + 0.0180 - 0.005, 100, -1),
                (0.0300 + 0.0240 - 0.005, 150, -1),
                (0.0300 + 0.0300 - 0.005, 150, -1),
            )
        )
    }
    assert told == pytest.approx({"speed term": 0.02, "warm-up": 0.03, "play": 0.01}, abs=1e-9)


@pytest.mark.parametrize(
    ("given", "names"),
    [
        ([(0.1, 150, 0)], set()),
        ([(0.1, 150, 0), (0.2, 50, 1)], {"speed term"}),  # warmth and speed are one here
        ([(0.1, 150, 0), (0.2, 150, 0)], {"warm-up"}),
        ([(0.1, 150, 0), (0.2, 50, 1), (0.1, 150, -1)], {"speed term", "warm-up"}),
    ],
)
def test_holds_that_cannot_tell_say_nothing(given, names):
    assert {measure for measure, _, _ in terms(holds(*given))} == names


def test_a_folder_is_kept_with_what_it_says(tmp_path):
    run = measured_run(3, 0, folder=tmp_path)
    kept = keep_folder(tmp_path, "note")
    assert kept.entry.job == JOB.name
    assert kept.entry.metres == run.drift.metres_total
    assert kept.document == (tmp_path / "run.json").read_bytes()
    assert len(kept.settings) == 8  # four colours against the reference, two axes
    assert kept.readings == readings_of(run)
    assert all(type(r.value) in (float, type(None)) for r in kept.readings)


def test_what_repeats_is_the_median_with_a_true_doubt():
    rng = np.random.default_rng(4)
    pulls = []
    for _ in range(2000):
        usual, sd = usual_of(rng.normal(0.05, 0.02, 12))
        pulls.append((usual - 0.05) / sd)
    # A median deviation of twelve is itself rough, so the pulls have wide tails.
    assert 0.8 < np.median(np.abs(pulls)) / 0.6745 < 1.2
    assert usual_of([0.1, 0.2]) == (None, None)
