"""[gate] and [correction] of the job file: what is read, what contradicts itself."""

import pytest

from regscan.job.job import Play
from regscan.job.read import read_job
from regscan.job.rules import DirectionWords, GateRules
from tests.job.example import changed, example_text
from tests.job.test_mistakes import problems_of

RULES = 'rules = ["levels", "metres outside", "share inside", "excursions", "skew"]'


def job_of(tmp_path, text):
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    return read_job(tmp_path / "job.toml")


def test_the_manuals_rules_words_and_play_are_read(tmp_path):
    job = job_of(tmp_path, example_text())
    assert job.gate.rules == ("levels", "metres outside", "share inside", "excursions", "skew")
    assert (job.gate.worst_excursion_mm, job.gate.most_skew_mm) == (0.15, 0.10)
    assert job.direction_words == DirectionWords("turn +", "turn -", "arrow left", "arrow right")
    plays = [station.play for station in job.press.stations]
    assert set(plays) == {Play(0.02, 0.0)}
    assert not any(station.locked or station.grips for station in job.press.stations)


def test_without_a_table_the_defaults_hold(tmp_path):
    text = example_text().split("[gate]")[0]
    job = job_of(tmp_path, text)
    assert job.gate == GateRules()
    job = job_of(tmp_path, changed(("# circumferential_play_mm", "circumferential_play_mm")))
    assert job.press.stations[2].play == Play(0.03, 0.0)
    job = job_of(tmp_path, changed(("# locked", "locked"), ("# grips", "grips")))
    assert [s.number for s in job.press.stations if s.locked and s.grips] == [3]


# (what is changed in the example, the place that is named, words of the problem or its cure)
MISTAKES = [
    ((RULES, 'rules = ["levels"]'), "gate.share_inside", "is not asked"),
    ((RULES, 'rules = ["levels"]'), "gate.most_metres_outside_m", '"metres outside"'),
    ((RULES, "rules = []"), "gate.rules", "at least 1"),
    ((RULES, 'rules = ["level"]'), "gate.rules[1]", "did you mean 'levels'"),
    (("[gate]\n" + RULES, '[gate]\nrules = ["levels", "levels"]'), "gate.rules", "twice"),
    (('decision = "prove conformity"', 'decision = "simple acceptance"'),
     "gate.confidence", "no say"),
    (('decision = "prove conformity"', 'decision = "guess"'), "gate.decision", "cannot be"),
    (("confidence = 0.95", "confidence = 0.4"), "gate.confidence", "more than 0.5"),
    (("confidence = 0.95", "confidence = nan"), "gate.confidence", "finite"),
    (("least_frames = 5", "least_frames = 1"), "gate.least_frames", "3 or more"),
    (('"skew"]', '"skew", "capability"]'), "gate.least_frames", "too few"),
    (('retard = "turn -"', 'retard = "turn +"'), "correction.words.retard", "of advance"),
    (('retard = "turn -"', "retard = 3"), "correction.words.retard", "text"),
    (("circumferential_play_mm = 0.02", "circumferential_play_mm = -1"),
     "correction.circumferential_play_mm", "0 or more"),
    (("# locked = true", 'locked = "yes"'), "press.stations[3].locked", "true or false"),
]  # fmt: skip


@pytest.mark.parametrize(("edit", "place", "words"), MISTAKES)
def test_mistakes_are_named(tmp_path, edit, place, words):
    problems = [p for p in problems_of(tmp_path, changed(edit)) if p.place == place]
    assert problems
    assert any(words in str(problem) for problem in problems)
