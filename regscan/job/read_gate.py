"""[gate] and [correction.words] of job.toml: their forms, and rules that contradict each other.

Imported by regscan.job.read only: pydantic is not loaded before a job is read.
"""

from collections.abc import Iterator
from typing import Annotated, Any, cast

from pydantic import Field, Strict

from regscan.errors import Problem
from regscan.job.forms import Form, Length, Number, eg
from regscan.job.rules import Decision, DirectionWords, GateRules, Rule

Word = Annotated[str, Strict(), Field(max_length=40, pattern=r"^[^\p{C}]*$")]
Share = Annotated[Number, Field(ge=0, le=1)]


class GateForm(Form):
    """[gate]: what is left out has its default"""

    rules: Annotated[list[Rule], Field(min_length=1, max_length=6)] | None = eg(
        'rules = ["levels", "metres outside"]', None
    )
    decision: Decision = eg('decision = "prove conformity"', "prove conformity")
    confidence: Annotated[Number, Field(gt=0.5, lt=1)] | None = eg("confidence = 0.95", None)
    least_frames: Annotated[int, Strict(), Field(ge=3, le=100_000)] = eg("least_frames = 5", 5)
    most_metres_outside_m: Annotated[Number, Field(ge=0, le=1e6)] | None = eg(
        "most_metres_outside_m = 0.0", None
    )
    share_inside: Annotated[Number, Field(gt=0.5, lt=1)] | None = eg("share_inside = 0.95", None)
    worst_excursion_mm: Length | None = eg("worst_excursion_mm = 0.15", None)
    least_capability: Annotated[Number, Field(gt=0, le=10)] | None = eg(
        "least_capability = 1.33", None
    )
    most_skew_mm: Length | None = eg("most_skew_mm = 0.10", None)
    missing_share: Share = eg("missing_share = 0.1", 0.1)
    doubtful_share: Share = eg("doubtful_share = 0.5", 0.5)


class WordsForm(Form):
    """[correction.words]: what the press's own controls say"""

    advance: Word = eg('advance = "turn +"', "")
    retard: Word = eg('retard = "turn -"', "")
    operator_side: Word = eg('operator_side = "arrow left"', "")
    drive_side: Word = eg('drive_side = "arrow right"', "")


LIMITS: dict[str, Rule] = {
    "most_metres_outside_m": "metres outside",
    "share_inside": "share inside",
    "worst_excursion_mm": "excursions",
    "least_capability": "capability",
    "most_skew_mm": "skew",
}
"""Each limit and the rule that asks it."""


def gate_rules(form: GateForm) -> GateRules:
    """The rules of a form; what it leaves out has its default."""
    given = {name: value for name, value in form.model_dump().items() if value is not None}
    given["rules"] = tuple(cast(list[Rule], given.get("rules", GateRules().rules)))
    return GateRules(**given)


def direction_words(form: WordsForm) -> DirectionWords:
    """The words of a form."""
    return DirectionWords(**form.model_dump())


def contradictions(form: GateForm) -> Iterator[Problem]:
    """Limits of rules that are not asked, rules asked twice, a confidence without a say."""
    rules = gate_rules(form).rules
    for rule in sorted({rule for rule in rules if rules.count(rule) > 1}):
        yield Problem("gate.rules", f"names {rule!r} twice", "name each rule once")
    for limit, rule in LIMITS.items():
        if getattr(form, limit) is not None and rule not in rules:
            cure = f'add "{rule}" to gate.rules, or remove {limit}'
            yield Problem(f"gate.{limit}", f"is the limit of {rule!r}, which is not asked", cure)
    if form.decision == "simple acceptance" and form.confidence is not None:
        what = "has no say in simple acceptance, which takes no doubt into account"
        yield Problem("gate.confidence", what, "remove it, or choose another gate.decision")
    if "capability" in rules and form.decision != "simple acceptance" and form.least_frames < 25:
        what = f"are {form.least_frames}, too few for the capability index asked for"
        cure = 'write least_frames = 25 or more, or take "capability" out of gate.rules'
        yield Problem("gate.least_frames", what, cure)


def checked_words(form: WordsForm) -> Iterator[Problem]:
    """Two directions must not carry one word: a move would point both ways."""
    for one, other in (("advance", "retard"), ("operator_side", "drive_side")):
        word: Any = getattr(form, one)
        if word and word == getattr(form, other):
            place = f"correction.words.{other}"
            yield Problem(place, f"is the word of {one} too", "give each direction its own word")
