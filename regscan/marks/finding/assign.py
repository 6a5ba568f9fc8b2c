"""Which candidate is which mark: all marks together, never one by its place alone.

Colour and shape make the candidates; the layout then says which set of them
can be one print: every mark within the search window of where one common
shift of the layout would put it. The best set wins.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regscan.marks.finding.candidates import Candidate

WINDOW_MM = 5.0  # how far one colour may lie from its place, against the set as a whole
_SHARED_STRENGTH = 0.25
_SHARED_STRENGTH_ALIKE = 0.7
_PLACE_COST = 0.35  # what being at the window's edge costs, in likeness


@dataclass(frozen=True, slots=True)
class Assignment:
    """The chosen candidate per mark and the next best likeness there.

    hidden     those of them that were chosen because they may lie under others.
    likeness   that of all others, which are seen, together.
    """

    chosen: dict[int, Candidate]
    rivals: dict[int, float]
    hidden: frozenset[int] = frozenset()
    likeness: float = 0.0


def assign(
    found: list[Candidate], design_px: np.ndarray, window_px: float, shapes: Sequence[object]
) -> Assignment:
    """Choose at most one candidate per mark, and no place twice for marks of one shape.

    found       candidates of all marks.
    design_px   M x 2 design places (row, col) px of the marks, up to a common shift.
    shapes      M shapes; equal ones are marks that only their ink tells apart.
    """
    if not found:
        return Assignment({}, {})
    mark = np.array([c.mark for c in found])
    place = np.array([(c.row_px, c.col_px) for c in found])
    likeness = np.array([c.likeness for c in found])
    shift = place - design_px[mark]
    gap = np.linalg.norm(shift[:, None] - shift[None], axis=2) / window_px
    # worth[a, b]: what candidate b adds when the layout is shifted as candidate a asks.
    worth = np.where(gap <= 1.0, likeness[None] - _PLACE_COST * gap**2, 0.0)
    marks = sorted(set(mark.tolist()))
    per_mark = np.stack([worth[:, mark == m].max(axis=1) for m in marks], axis=1)
    anchor = int(per_mark.sum(axis=1).argmax())
    # The common shift is better known from the whole set than from one mark of it.
    near = gap[anchor] <= 1.0
    best = [np.flatnonzero(near & (mark == m)) for m in marks]
    picked = [group[worth[anchor, group].argmax()] for group in best if group.size]
    common = np.median(shift[picked], axis=0)
    gap_common = np.linalg.norm(shift - common, axis=1) / window_px
    score = np.where(gap_common <= 1.0, likeness - _PLACE_COST * gap_common**2, -1.0)
    return _greedy(found, score, mark, shapes)


def _greedy(
    found: list[Candidate], score: np.ndarray, mark: np.ndarray, shapes: Sequence[object]
) -> Assignment:
    chosen: dict[int, Candidate] = {}
    rivals: dict[int, float] = {}
    for index in np.argsort(-score):
        if score[index] <= 0.0:
            break
        candidate, number = found[index], int(mark[index])
        if number in chosen:
            rivals.setdefault(number, float(score[index] / max(score_of(chosen, number), 1e-6)))
            continue
        if any(_robs(candidate, other, shapes) for other in chosen.values()):
            continue
        chosen[number] = candidate
    return Assignment(chosen, rivals)


def score_of(chosen: dict[int, Candidate], number: int) -> float:
    """Likeness of the candidate chosen for a mark."""
    return chosen[number].likeness


def _robs(one: Candidate, other: Candidate, shapes: Sequence[object]) -> bool:
    """Whether two marks claim one print. Two inks may well lie on each other, and a joint
    fit will tell whether both do; what is hardly there is a shadow of the stronger. Where
    both have one shape only the colour can tell, so it must speak clearly for each."""
    return shadows(one, other, shapes) or (
        _near(one, other) and min(one.strength, other.strength) < _SHARED_STRENGTH
    )


def shadows(one: Candidate, other: Candidate, shapes: Sequence[object]) -> bool:
    """Whether two marks of one shape claim one print, and colour does not speak for both."""
    alike = shapes[one.mark] == shapes[other.mark]
    weak = min(one.strength, other.strength) < _SHARED_STRENGTH_ALIKE
    return alike and weak and _near(one, other)


def _near(one: Candidate, other: Candidate) -> bool:
    return abs(one.row_px - other.row_px) < 4.0 and abs(one.col_px - other.col_px) < 4.0
