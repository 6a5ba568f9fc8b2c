"""Odd presses on which measuring once fell, or called a mark sure that lay elsewhere."""

import pytest

from bench.odd.judged import outcome

FELL = [0, 11, 154]  # inks beyond a byte's bits; a place beyond the frame
ELSEWHERE = [79, 249, 318, 425]  # a ghost of no area; like inks and like marks changed over


@pytest.mark.parametrize("number", FELL + ELSEWHERE)
def test_measuring_neither_falls_nor_is_sure_of_what_is_elsewhere(number):
    seen = outcome(number)
    assert not seen.fell, seen.fell
    assert not seen.wrong, seen.wrong
    assert seen.statuses
