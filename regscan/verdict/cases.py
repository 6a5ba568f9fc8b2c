"""The gate's answer for one colour on one axis, with what it rests on, in words."""

from regscan.drift.drift import Track
from regscan.job.rules import GateRules
from regscan.verdict.asked import RULES, Asked, asked_always, gate_sd_mm
from regscan.verdict.enough import frames_for
from regscan.verdict.finding import Finding, worst
from regscan.verdict.rule import conformance
from regscan.verdict.verdict import Case


def make_case(track: Track, rules: GateRules, other_edge: Track | None = None) -> Case:
    """The answer for one track: the worst that any rule asked has to say.

    other_edge   the same colour and axis at the other web edge, for skew and width.
    """
    asked = Asked(track, other_edge, rules)
    always = asked_always(asked)
    findings = [found for rule in RULES if rule in rules.rules for found in RULES[rule](asked)]
    answer = worst([*findings, *always]).answer
    settled = track.settled
    sd = gate_sd_mm(settled) if settled else None
    return Case(
        station=track.station,
        ink=track.ink,
        camera=track.camera,
        edge=track.edge,
        axis=track.axis,
        tolerance_mm=track.tolerance_mm,
        offset_mm=settled.mean_mm if settled else None,
        sd_mm=sd,
        probability=None
        if settled is None or sd is None
        else conformance(settled.mean_mm, sd, track.tolerance_mm),
        frames=settled.frames if settled else 0,
        answer=answer,
        why=_why(findings, always, answer),
        frames_needed=frames_for(settled, track.tolerance_mm, rules) if settled else None,
    )


def _why(findings: list[Finding], always: list[Finding], answer: str) -> str:
    """The reasons; that a colour was seen is one only where no rule says more."""
    told = [one for one in findings if one.answer == answer]
    more = [one for one in always if one.answer == answer]
    used = told if told and answer == "in register" else [*more, *told]
    return worst(used).why
