"""The rules a job can ask, and what each does at its edge."""

import math
from dataclasses import replace

import pytest
from drift.presses import JOB

from regscan.drift.drift import Excursion
from regscan.job.rules import GateRules
from regscan.verdict.asked import cpk, wilson
from regscan.verdict.enough import enough_words, frames_enough
from regscan.verdict.gate import judge_run, rule_words
from regscan.verdict.rule import judge
from verdict.tracks import drift_of, level, stretch, track

IN, OUT, UNSURE = "in register", "out of tolerance", "cannot be decided"


def case(one, *others, **rules):
    job = replace(JOB, gate=GateRules(**rules))
    return judge_run(drift_of(one, *others), job).cases[0]


# Tolerance +-0.100 mm, u = 0.010 mm (check values: recomputed), the three decisions.
@pytest.mark.parametrize(
    ("offset", "proven", "simple", "disproven"),
    [
        (0.080, IN, IN, IN),
        (0.0835, IN, IN, IN),
        (0.090, UNSURE, IN, IN),
        (0.100, UNSURE, IN, IN),  # on the limit
        (-0.100, UNSURE, IN, IN),
        (0.1000001, UNSURE, OUT, IN),
        (0.1164, UNSURE, OUT, IN),
        (0.1165, OUT, OUT, OUT),
        (-0.1165, OUT, OUT, OUT),
        (0.120, OUT, OUT, OUT),
        (math.nan, UNSURE, UNSURE, UNSURE),
    ],
)
def test_three_decisions(offset, proven, simple, disproven):
    assert judge(offset, 0.010, 0.100) == proven
    assert judge(offset, 0.010, 0.100, "simple acceptance") == simple
    assert judge(offset, 0.010, 0.100, "prove nonconformity") == disproven


def test_more_confidence_needs_more_room():
    # One-sided factor at 99 %: 2.3263 (any table of the normal distribution).
    assert judge(0.0767, 0.010, 0.100, confidence=0.99) == IN
    assert judge(0.0769, 0.010, 0.100, confidence=0.99) == UNSURE
    assert judge(0.1232, 0.010, 0.100, confidence=0.99) == UNSURE
    assert judge(0.1233, 0.010, 0.100, confidence=0.99) == OUT


def test_the_decision_of_the_job_is_the_gates():
    near = track(settled=level(0.098, sd_mm=0.002))
    assert case(near).answer == UNSURE
    assert case(near, decision="simple acceptance").answer == IN
    assert case(near, decision="prove nonconformity").answer == IN
    assert "simple acceptance" in rule_words(GateRules(decision="simple acceptance"))
    assert "|offset| - 1.6449" in rule_words(GateRules(decision="prove nonconformity"))


# The least number of frames: five to pass; two agreeing ones can prove a failure that no
# print noise explains; one alone may be one bad label, and proves nothing.
@pytest.mark.parametrize(
    ("mean", "frames", "sd", "answer"),
    [
        (2.0, 1, 0.001, UNSURE),  # however far: one frame, no repeat
        (2.0, 2, 0.001, OUT),
        (0.14, 2, 0.001, OUT),  # 0.04 beyond; 3.09 x 0.015 / sqrt 2 = 0.033
        (0.13, 2, 0.001, UNSURE),  # 0.03 beyond
        (0.13, 4, 0.001, OUT),  # 3.09 x 0.015 / 2 = 0.023
        (0.0, 4, 0.001, UNSURE),  # nothing passes on four
        (2.0, 2, None, UNSURE),  # doubt not known
    ],
)
def test_few_frames_never_pass_and_seldom_fail(mean, frames, sd, answer):
    found = case(track(settled=level(mean, sd_mm=sd, frames=frames)))
    assert found.answer == answer
    assert "5 needed" in found.why or answer == OUT


def test_undecided_names_how_many_more_frames():
    near = level(0.09, sd_mm=0.02, frames=16)  # single frames differ by 0.08
    found = case(track(settled=near))
    # 1.6449 x 0.08 / sqrt(n) <= 0.01 needs n = 173; Student's factor a little more.
    assert 173 <= found.frames_needed <= 178
    assert f"about {found.frames_needed - 16} more frames like these would decide" in found.why
    enough = level(0.09, sd_mm=0.08 / found.frames_needed**0.5, frames=found.frames_needed)
    assert case(track(settled=enough)).answer == IN


@pytest.mark.parametrize(
    ("mean", "needed"),
    [
        (0.70, 2),  # one more: two that agree so far out prove a failure
        (0.14, 2),  # 3.09 x 0.015 / sqrt 2 = 0.033
        (0.13, 3),  # 3.09 x 0.015 / sqrt 3 = 0.027
        (0.125, 4),  # 3.09 x 0.015 / 2 = 0.023
        (0.12, 5),  # not proven by fewer than may pass
        (0.0, 5),
        # 1.6449 x 0.015 x Student's factor / sqrt n <= 0.01 (JCGM 100, G.3): n 8 or 9.
        (0.09, 9),
    ],
)
def test_one_frame_tells_how_many_more_would_decide(mean, needed):
    found = case(track(settled=level(mean, sd_mm=0.001, frames=1)))
    assert (found.answer, found.frames_needed) == (UNSURE, needed)
    if needed < 5:  # too few to pass, and enough to fail: it is said which
        assert found.why.endswith(f"5 needed to pass; {needed - 1} more this far out would fail it")
    else:
        assert found.why.endswith(f"5 needed: about {needed - 1} more would decide")


def test_one_frame_is_no_surer_than_print_is():
    found = case(track(settled=level(0.09, sd_mm=0.001, frames=1)))
    assert found.sd_mm == pytest.approx(math.hypot(0.001, 0.015))
    # Phi(0.01 / 0.01503) = Phi(0.665); any table of the normal distribution.
    assert found.probability == pytest.approx(0.747, abs=1e-3)


@pytest.mark.parametrize(
    ("missing", "doubtful", "answer"),
    [
        (0, 0, IN),
        (10, 0, IN),  # 10 of 100: a tenth, not more
        (11, 0, UNSURE),
        (0, 50, IN),  # half, not more
        (0, 51, UNSURE),
        (1, 0, IN),
    ],
)
def test_the_edges_of_missing_and_doubtful(missing, doubtful, answer):
    frames = 100 - missing - doubtful
    found = case(
        track(
            settled=level(0.0, sd_mm=0.001, frames=frames),
            frames_missing=missing,
            frames_doubtful=doubtful,
        )
    )
    assert found.answer == answer


def test_on_the_limit_no_number_of_frames_decides():
    found = case(track(settled=level(0.1, sd_mm=0.01)))
    assert found.frames_needed is None
    assert "more frames would not decide it" in found.why
    assert frames_enough(0.09, 0.01, 0.1, GateRules(), fixed_mm=0.02) is None


def test_before_a_run_the_frames_that_are_enough_are_told():
    # At half the tolerance and a noise of a tenth of it the least number is enough.
    assert frames_enough(0.05, 0.01, 0.1, GateRules()) == 5
    words = enough_words(0.1, 0.01, GateRules())
    assert "5 frames up to 0.050 mm" in words
    assert "up to 0.095 mm" in words


def test_a_pass_needs_the_colour_to_be_seen_whatever_is_asked():
    rules = {"rules": ("metres outside",)}
    assert case(track(frames_missing=30), **rules).answer == UNSURE
    assert case(track(settled=0.2), **rules).answer == IN  # levels are not asked
    assert case(track(settled=0.01, frames_missing=20), missing_share=0.01).answer == UNSURE


def test_some_metres_may_be_allowed():
    out = track(settled=0.01, stretches=(stretch(-0.15, metres=4.0),))
    assert case(out).answer == OUT
    assert case(out, most_metres_outside_m=5.0).answer == IN
    assert case(out, most_metres_outside_m=3.9).answer == OUT
    unknown = replace(out, metres_outside=None)
    assert case(unknown, most_metres_outside_m=5.0).answer == OUT


def test_share_inside():
    asked = {"rules": ("levels", "share inside")}
    few = track(settled=level(0.01, frames=40))
    # Wilson at zero outside: upper bound z2 / (n + z2); 5 % needs 52 frames.
    assert case(few, **asked).answer == UNSURE
    assert "12 more frames without one outside would prove it" in case(few, **asked).why
    assert case(track(settled=level(0.01, frames=52)), **asked).answer == IN
    bad = track(settled=0.01, stretches=(replace(stretch(0.15), frames=60),))
    assert case(bad, **asked).answer == OUT  # 60 of 400
    assert case(few, **asked, decision="simple acceptance").answer == IN


def test_wilsons_bounds():
    # 10 of 100 at 95 % two-sided (z 1.96): 0.0552 to 0.1744 (recomputed from the formula's
    # two roots of (p - x)^2 = z^2 x (1 - x) / n).
    low, high = wilson(0.1, 100, GateRules(confidence=0.975))
    for bound in (low, high):
        assert (0.1 - bound) ** 2 == pytest.approx(1.959964**2 * bound * (1 - bound) / 100)
    assert (low, high) == (pytest.approx(0.0552, abs=1e-4), pytest.approx(0.1744, abs=1e-4))


@pytest.mark.parametrize(
    ("worst", "limit", "answer"),
    [
        (0.12, 0.15, IN),
        (-0.15, 0.15, IN),
        (0.16, 0.15, UNSURE),
        (-0.25, 0.15, OUT),
        (0.12, None, UNSURE),
        (0.2, None, OUT),
    ],
)
def test_excursions(worst, limit, answer):
    level_ = level(0.0, sd_mm=0.001)  # single frames differ by 0.02
    one = replace(
        track(settled=level_), excursions=(Excursion(2, "a.png", 1.0, 2.0, 60.0, worst, 0.001),)
    )
    found = case(one, rules=("levels", "excursions"), worst_excursion_mm=limit)
    assert found.answer == answer


def test_capability_is_that_of_the_handbook():
    # NIST/SEMATECH 6.1.6: limits 8 and 20, mean 16, s 2 -> Cpk 0.6667 (as published).
    assert cpk(16.0 - 14.0, 2.0, 6.0) == pytest.approx(0.6667, abs=5e-5)
    asked = {"rules": ("capability",), "least_frames": 25}
    good = track(settled=level(0.0, sd_mm=0.01 / 20, frames=400))  # spread 0.01: Cpk 3.33
    poor = track(settled=level(0.06, sd_mm=0.02 / 20, frames=400))  # spread 0.02: Cpk 0.67
    close = track(settled=level(0.02, sd_mm=0.02 / 20, frames=400))  # Cpk 1.33
    assert [case(t, **asked).answer for t in (good, poor, close)] == [IN, OUT, UNSURE]


def test_skew():
    def pair(operator, drive):
        return (
            track(settled=level(operator), edge="operator"),
            track(settled=level(drive), edge="drive"),
        )

    asked = {"rules": ("levels", "skew"), "most_skew_mm": 0.05}
    assert case(*pair(0.02, 0.06), **asked).answer == IN
    assert case(*pair(-0.04, 0.04), **asked).answer == OUT
    assert case(*pair(0.0, 0.05), **asked).answer == UNSURE
    assert "0.080 ±0.003 mm between the web edges (skew)" in case(*pair(-0.04, 0.04), **asked).why
    assert case(track(settled=0.0), **asked).answer == IN  # one mark set: nothing to compare


def test_the_rules_asked_are_stated():
    words = rule_words(GateRules(rules=("levels", "share inside"), share_inside=0.9))
    assert "asked: every settled level, at least 0.9 of the frames inside" in words
    assert "99 %" in rule_words(GateRules(confidence=0.99))
    assert "not found in more than 5% of the frames" in rule_words(GateRules(missing_share=0.05))
    assert "good in fewer than 7 of the settled hold" in rule_words(GateRules(least_frames=7))
