"""[acceptance] of the job file: what is read, what contradicts itself."""

import pytest

from regscan.job.rules import AcceptanceRules
from tests.job.example import changed, example_text
from tests.job.test_gate_rules import job_of
from tests.job.test_mistakes import problems_of


def test_the_manuals_protocol_is_read(tmp_path):
    rules = job_of(tmp_path, example_text()).acceptance
    assert rules.name == "Press 2, yearly check"
    assert (rules.fast_m_min, rules.slow_m_min, rules.times) == (150.0, 50.0, 2)
    assert (rules.hold_s, rules.rates_m_s2) == (180.0, (0.08, 0.04))
    assert (rules.frames_in_hold, rules.frames_in_ramp) == (30, 10)


def test_without_a_table_it_is_common_practice_and_says_so(tmp_path):
    rules = job_of(tmp_path, example_text().split("[acceptance]")[0]).acceptance
    assert rules == AcceptanceRules()
    assert "common practice, no source" in rules.name


def test_a_changed_protocol_is_not_called_common_practice(tmp_path):
    text = changed(('name = "Press 2, yearly check"\n', ""), ("times = 2", "times = 3"))
    rules = job_of(tmp_path, text).acceptance
    assert rules.times == 3
    assert "common practice" not in rules.name


# (what is changed in the example, the place that is named, words of the problem or its cure)
MISTAKES = [
    (("slow_m_min = 50.0", "slow_m_min = 140.0"), "acceptance.slow_m_min", "clearly slower"),
    (("[0.08, 0.04]", "[0.08, 0.07]"), "acceptance.rates_m_s2", "too near"),
    (("[0.08, 0.04]", "[0.08, -0.04]"), "acceptance.rates_m_s2[2]", "more than 0"),
    (("times = 2", "times = 0"), "acceptance.times", "1 or more"),
    (("hold_s = 180.0", "holds_s = 180.0"), "acceptance.holds_s", "hold_s"),
]


@pytest.mark.parametrize(("change", "place", "words"), MISTAKES)
def test_a_mistake_is_named_with_its_place(tmp_path, change, place, words):
    (problem,) = problems_of(tmp_path, changed(change))
    assert problem.place == place
    assert words in f"{problem.what} {problem.cure}"
