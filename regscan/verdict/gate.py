"""The gate: pass, fail or cannot say, for the whole run."""

from regscan.drift.drift import Drift, Track
from regscan.drift.words import counted, lies
from regscan.job.job import Job
from regscan.job.rules import GateRules, Rule
from regscan.verdict.cases import make_case
from regscan.verdict.rule import factor, judge
from regscan.verdict.verdict import Answer, Case, Verdict

__all__ = ["judge", "judge_run", "rule_words"]


def rule_words(rules: GateRules) -> str:
    """What was asked and how doubt counted, in words."""
    z, percent = factor(rules.confidence), f"{100.0 * rules.confidence:.4g} %"
    decision = {
        "prove conformity": f"prove conformity after ISO 14253-1: the true offset lies within"
        f" tolerance with at least {percent} probability (|offset| + {z:.4f} standard"
        " deviations)",
        "prove nonconformity": f"prove nonconformity after ISO 14253-1: out only where |offset|"
        f" - {z:.4f} standard deviations ({percent}) lies beyond the tolerance",
        "simple acceptance": "simple acceptance: |offset| within the tolerance as it is, doubt has"
        " no say and the risk is shared",
    }[rules.decision]
    asked = ", ".join(_LIMITS[rule].format(rules=rules) for rule in rules.rules)
    seen = (
        f"a colour not found in more than {rules.missing_share:.0%} of the frames, doubtful in more"
        f" than {rules.doubtful_share:.0%}, or good in fewer than {rules.least_frames} of the"
        " settled hold does not pass"
    )
    return f"{decision}; probability after JCGM 106; asked: {asked}; {seen}"


_LIMITS: dict[Rule, str] = {
    "levels": "every settled level",
    "metres outside": "at most {rules.most_metres_outside_m:g} m of web outside tolerance",
    "share inside": "at least {rules.share_inside:g} of the frames inside",
    "excursions": "the worst excursion in ramps",
    "capability": "capability index {rules.least_capability:g} or more",
    "skew": "skew and width between the web edges",
}


def judge_run(drift: Drift, job: Job) -> Verdict:
    """Every measurable station except the reference, on both axes, as every camera saw it.

    Out of tolerance when any case is; else it cannot be decided when any case cannot
    (a colour never seen among them); else in register.
    """
    cases = tuple(
        make_case(track, job.gate, _other_edge(track, drift))
        for track in drift.tracks
        if track.ink != job.reference
    )
    answer = _answer(cases)
    rule = f"{rule_words(job.gate)}; offsets count from {job.zero_words}"
    return Verdict(answer, _sentence(answer, cases, job), cases, rule)


def _other_edge(track: Track, drift: Drift) -> Track | None:
    """The same colour and axis at the other web edge, by the same camera where there is one."""
    other = {"operator": "drive", "drive": "operator"}.get(track.edge)
    found = [t for t in drift.tracks if (t.ink, t.axis, t.edge) == (track.ink, track.axis, other)]
    same = [t for t in found if t.camera == track.camera]
    return next(iter(same or found), None)


def _answer(cases: tuple[Case, ...]) -> Answer:
    answers = {case.answer for case in cases}
    if "out of tolerance" in answers:
        return "out of tolerance"
    if not cases or "cannot be decided" in answers:
        return "cannot be decided"
    return "in register"


def _sentence(answer: Answer, cases: tuple[Case, ...], job: Job) -> str:
    ending = _not_judged(job)
    if not cases:
        return f"Cannot be decided: no colour was measured.{ending}"
    if answer == "in register":
        return f"In register: {_all_in(cases, job)}.{ending}"
    concerned = [case for case in cases if case.answer == answer]
    worst = max(concerned, key=_share)
    more = f"; and {len(concerned) - 1} more" if len(concerned) > 1 else ""
    head = "Out of tolerance" if answer == "out of tolerance" else "Cannot be decided"
    return (
        f"{head}: {worst.ink} (station {worst.station}), {worst.axis}: {worst.why}{more}.{ending}"
    )


def _all_in(cases: tuple[Case, ...], job: Job) -> str:
    """How close the closest colour comes to its limit."""
    worst = max(cases, key=_share)
    inks = len({case.ink for case in cases})
    offset = lies(worst.axis, worst.offset_mm or 0.0, worst.sd_mm)
    source = f" ({job.tolerance.source})" if job.tolerance.source else ""
    return (
        f"{counted(inks, 'colour')} within tolerance of {job.reference} on both axes; closest to "
        f"its limit is {worst.ink}, {offset} of {worst.tolerance_mm:.3f} mm allowed{source}, "
        f"conformance probability {worst.probability:.4f}"
    )


def _share(case: Case) -> float:
    """How much of its tolerance an offset uses; a colour without one is worst of all."""
    if case.offset_mm is None:
        return float("inf")
    return abs(case.offset_mm) / case.tolerance_mm


def _not_judged(job: Job) -> str:
    inks = job.unmeasurable_inks
    return f" Not measurable and not judged: {', '.join(inks)}." if inks else ""
