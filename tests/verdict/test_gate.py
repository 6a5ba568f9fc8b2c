"""The gate on whole runs: what counts, in which order, in which words."""

import numpy as np
import pytest
from drift.presses import INKS, JOB, Made, make_job, make_table
from drift.profiles import frame_table

from regscan.drift.describe import describe_run
from regscan.verdict.gate import judge_run
from verdict.tracks import drift_of, level, stretch, track

IN, OUT, UNSURE = "in register", "out of tolerance", "cannot be decided"


def judged(*tracks):
    return judge_run(drift_of(*tracks), JOB)


@pytest.mark.parametrize(
    ("tracks", "answer", "exit_code"),
    [
        ([track(settled=0.05)], IN, 0),
        ([track(settled=0.05), track("yellow", settled=0.14)], OUT, 1),
        ([track(settled=0.05), track("yellow", settled=0.098)], UNSURE, 4),
        ([track(settled=0.14), track("yellow", settled=0.098)], OUT, 1),
        ([track(settled=0.14), track("yellow")], OUT, 1),
        ([track(settled=0.05), track("yellow", frames_missing=90)], UNSURE, 4),
        ([track("black", settled=0.0)], UNSURE, 4),
        ([], UNSURE, 4),
    ],
)
def test_the_answer_and_its_exit_code(tracks, answer, exit_code):
    verdict = judged(*tracks)
    assert (verdict.answer, verdict.exit_code) == (answer, exit_code)


@pytest.mark.parametrize(
    ("case", "answer", "why"),
    [
        (track(), UNSURE, "not found in any frame"),
        (track(frames_ok=30), UNSURE, "never settled"),
        (track(settled=level(0.0, frames=4)), UNSURE, "4 good frames in the settled hold, 5"),
        (track(settled=level(0.0, frames=1)), UNSURE, "1 good frame in"),
        (track(settled=level(0.0, sd_mm=None)), UNSURE, "5 needed"),
        (track(settled=level(0.0, doubtful=True)), UNSURE, "only doubtful"),
        (track(settled=0.01, frames_missing=100), UNSURE, "not found in 100 of 500 frames"),
        (track(settled=0.01, frames_missing=20), IN, "within 0.100 mm"),
        (track(settled=0.01, frames_doubtful=500), UNSURE, "doubtful in 500 of 900"),
        (track(settled=0.01, stretches=(stretch(-0.15),)), OUT, "18.2 m of web"),
        (
            track(settled=0.01, levels=(level(0.12, segment=3), level(0.01))),
            OUT,
            "0.120 ±0.002 mm late at 120 m/min",
        ),
        # Another hold close to the limit does not stop a pass; one proven outside does.
        (track(settled=0.01, levels=(level(0.1, segment=3), level(0.01))), IN, "within"),
    ],
)
def test_what_counts_for_one_colour(case, answer, why):
    (found,) = judged(case).cases
    assert found.answer == answer
    assert why in found.why


def test_few_frames_need_more_room():
    many = judged(track(settled=level(0.082, sd_mm=0.010, frames=400))).cases[0]
    few = judged(track(settled=level(0.082, sd_mm=0.010, frames=5))).cases[0]
    assert (many.answer, few.answer) == (IN, UNSURE)
    assert few.sd_mm > many.sd_mm
    assert few.probability < 0.95 < many.probability


def test_both_axes_and_every_camera_must_pass():
    verdict = judged(
        track(settled=0.01),
        track(axis="lateral", settled=0.01, camera="middle"),
        track(axis="lateral", settled=0.15, camera="end"),
    )
    assert [case.answer for case in verdict.cases] == [IN, IN, OUT]
    assert verdict.cases[2].camera == "end"


def test_the_sentence_names_the_worst_with_its_numbers():
    verdict = judged(track(settled=0.12), track("yellow", settled=-0.15))
    assert verdict.sentence == (
        "Out of tolerance: yellow (station 4), circumferential: 0.150 ±0.002 mm early at 120 "
        "m/min, 0.050 mm over the tolerance of 0.100 mm; and 1 more."
    )


def test_a_pass_says_how_close_it_was_and_who_set_the_tolerance():
    sentence = judged(track(settled=0.05), track("yellow", axis="lateral", settled=-0.06)).sentence
    assert sentence == (
        "In register: 2 colours within tolerance of black on both axes; closest to its limit is "
        "yellow, 0.060 ±0.002 mm toward the operator side of 0.100 mm allowed (house rule), "
        "conformance probability 1.0000."
    )


def test_an_invisible_ink_is_named_in_the_verdict():
    job = make_job(invisible=("varnish",))
    sentence = judge_run(drift_of(track(settled=0.05)), job).sentence
    assert sentence.endswith("Not measurable and not judged: varnish.")


def test_the_rule_is_stated():
    rule = judged().rule
    assert "ISO 14253-1" in rule
    assert "1.6449" in rule
    assert rule.endswith("offsets count from the design")


def constant(late):
    return lambda t: (late + 0.0 * t, 0.0 * t)


def test_calm_runs_pass():
    for seed in range(15):
        truth = {ink: constant(0.04) for ink in INKS[:-1]}
        drift = describe_run(make_table(Made(truth=truth, wander=0.5), seed), JOB)
        assert judge_run(drift, JOB).answer == IN


def test_a_run_with_one_colour_off_fails():
    for seed in range(15):
        drift = describe_run(make_table(Made(truth={"cyan": constant(0.12)}), seed), JOB)
        verdict = judge_run(drift, JOB)
        assert verdict.answer == OUT
        assert {c.ink for c in verdict.cases if c.answer == OUT} == {"cyan"}


def test_on_the_limit_a_real_run_seldom_passes():
    # Still frames, true level on the limit: a wrong pass in at most one of twenty.
    job = make_job(inks=("cyan", "black"))
    passed = 0
    for seed in range(300):
        table = frame_table([None] * 20, circumferential_sd_mm=0.0005)
        noise = np.random.default_rng(seed).normal(0, 0.01, 20)
        table["circumferential_mm"] = 0.1 + noise
        case = judge_run(describe_run(table, job), job).cases[0]
        passed += case.answer == IN
    assert passed <= 0.05 * 300 + 3 * (300 * 0.05 * 0.95) ** 0.5
