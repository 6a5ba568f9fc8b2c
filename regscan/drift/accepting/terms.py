"""Terms of the run model that two runs are compared by, where both runs have a model."""

import math
from collections.abc import Iterator

from regscan.drift.accepting.numbers import Pair
from regscan.drift.behaviour import Behaviour, Behaviours, Term, TermKind

SINGLE: tuple[TermKind, ...] = ("speed", "acceleration", "two levels", "warm-up", "drift")
"""Kinds of which a station has one at most, so that it is clear what to compare with what."""


def term_pairs(now: Behaviours, before: Behaviours) -> Iterator[tuple[Behaviour, Pair]]:
    """Every term that either run found, with its station; not found counts as none.

    A term that only one run found has, in the other, the same doubt: too little was there
    to be found.
    """
    earlier = {(b.station, b.ink, b.channel): b for b in before.stations}
    for mine in now.stations:
        theirs = earlier.get((mine.station, mine.ink, mine.channel))
        if theirs is None:
            continue
        for kind in SINGLE:
            one, other = _only(mine, kind), _only(theirs, kind)
            if one and other and one.unit != other.unit:
                continue
            if one or other:
                yield mine, _pair(kind, one, other)


def _only(behaviour: Behaviour, kind: TermKind) -> Term | None:
    terms = [term for term in behaviour.terms if term.kind == kind]
    return terms[0] if len(terms) == 1 else None


def _pair(kind: TermKind, one: Term | None, other: Term | None) -> Pair:
    known = one or other
    assert known
    now = one.size.value if one else 0.0
    before = other.size.value if other else 0.0
    sds = [(term or known).size.sd for term in (one, other)]
    sd = max(math.hypot(*sds), 1e-12)
    return Pair("term", kind, known.unit, now, before, now - before, sd, math.inf)
