"""The gate: pass, fail or cannot say, for the whole run."""

from regscan.drift.drift import Drift
from regscan.drift.words import counted, lies
from regscan.job.job import Job
from regscan.verdict.cases import make_case
from regscan.verdict.rule import CONFIDENCE, FACTOR, judge
from regscan.verdict.verdict import Answer, Case, Verdict

__all__ = ["RULE", "judge", "judge_run"]

RULE = (
    f"prove conformity after ISO 14253-1: the true offset lies within tolerance with at least "
    f"{CONFIDENCE:.0%} probability (|offset| + {FACTOR:.4f} standard deviations); "
    f"probability after JCGM 106; web outside tolerance counts as out"
)


def judge_run(drift: Drift, job: Job) -> Verdict:
    """Every measurable station except the reference, on both axes, as every camera saw it.

    Out of tolerance when any case is; else it cannot be decided when any case cannot
    (a colour never seen among them); else in register.
    """
    cases = tuple(make_case(track) for track in drift.tracks if track.ink != job.reference)
    answer = _answer(cases)
    rule = f"{RULE}; offsets count from {job.zero_words}"
    return Verdict(answer, _sentence(answer, cases, job), cases, rule)


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
    offset = lies(worst.axis, worst.offset_mm or 0.0)
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
