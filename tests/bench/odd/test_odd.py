"""Odd presses on which measuring once fell, or called a mark sure that lay elsewhere."""

import pytest

from bench.odd.judged import outcome

FELL = [0, 11, 154]  # inks beyond a byte's bits; a place beyond the frame
# A ghost of no area; a hole between lights that no print reflects; like inks and like marks changed
# over.
ELSEWHERE = [79, 246, 249, 318, 425]


@pytest.mark.parametrize("number", FELL + ELSEWHERE)
def test_measuring_neither_falls_nor_is_sure_of_what_is_elsewhere(number):
    seen = outcome(number)
    assert not seen.fell, seen.fell
    assert not seen.wrong, seen.wrong
    assert seen.statuses
