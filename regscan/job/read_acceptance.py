"""[acceptance] of job.toml: its form, and what contradicts itself.

Imported by regscan.job.read only: pydantic is not loaded before a job is read.
"""

from collections.abc import Iterator
from itertools import pairwise
from typing import Annotated

from pydantic import Field, Strict

from regscan.errors import Problem
from regscan.job.forms import Form, Number, Text, eg
from regscan.job.rules import AcceptanceRules

Speed = Annotated[Number, Field(gt=2, le=2000)]
Rate = Annotated[Number, Field(gt=0, le=10)]
Frames = Annotated[int, Strict(), Field(ge=5, le=100_000)]
USUAL = AcceptanceRules()


class AcceptanceForm(Form):
    """[acceptance]: what is left out has its default"""

    name: Text = eg('name = "Press 2, after repair"', USUAL.name)
    fast_m_min: Speed = eg("fast_m_min = 150.0", USUAL.fast_m_min)
    slow_m_min: Speed = eg("slow_m_min = 50.0", USUAL.slow_m_min)
    times: Annotated[int, Strict(), Field(ge=1, le=100)] = eg("times = 2", USUAL.times)
    hold_s: Annotated[Number, Field(gt=0, le=1e5)] = eg("hold_s = 180.0", USUAL.hold_s)
    rates_m_s2: Annotated[list[Rate], Field(max_length=10)] = eg(
        "rates_m_s2 = [0.08, 0.04]", list(USUAL.rates_m_s2)
    )
    frames_in_hold: Frames = eg("frames_in_hold = 30", USUAL.frames_in_hold)
    frames_in_ramp: Frames = eg("frames_in_ramp = 10", USUAL.frames_in_ramp)


def acceptance_rules(form: AcceptanceForm) -> AcceptanceRules:
    """The protocol of a form; one that is changed is no longer called common practice."""
    given = {**form.model_dump(), "rates_m_s2": tuple(form.rates_m_s2)}
    if form.model_fields_set and "name" not in form.model_fields_set:
        given["name"] = "the job's own"
    return AcceptanceRules(**given)


def contradictions(form: AcceptanceForm) -> Iterator[Problem]:
    """Speeds that are no two levels, rates that are no two."""
    if form.slow_m_min >= 0.8 * form.fast_m_min:
        what = f"is {form.slow_m_min:g}, not clearly slower than {form.fast_m_min:g}"
        yield Problem("acceptance.slow_m_min", what, "write at most 0.8 times fast_m_min")
    rates = sorted(form.rates_m_s2)
    for one, other in pairwise(rates):
        if other < 1.5 * one:
            what = f"has {one:g} and {other:g}, too near each other to be told apart"
            cure = "let each rate be at least 1.5 times the next lower one"
            yield Problem("acceptance.rates_m_s2", what, cure)
