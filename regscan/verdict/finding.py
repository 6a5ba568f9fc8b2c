"""One rule's answer for one colour on one axis, and its reason."""

from dataclasses import dataclass

from regscan.verdict.verdict import Answer

ORDER: tuple[Answer, ...] = ("out of tolerance", "cannot be decided", "in register")


@dataclass(frozen=True, slots=True)
class Finding:
    """An answer and its reason in words."""

    answer: Answer
    why: str


def worst(findings: list[Finding]) -> Finding:
    """The worst answer with all reasons for it."""
    for answer in ORDER:
        whys = [found.why for found in findings if found.answer == answer]
        if whys:
            return Finding(answer, "; ".join(dict.fromkeys(whys)))
    raise ValueError("a case needs at least one finding")
