"""Moves in words and the change each must show: the contract's signs."""

import pytest

from regscan.instrument.direction.step import step_of


@pytest.mark.parametrize(
    ("words", "circumferential", "lateral"),
    [
        # + is late, cured by advancing; + is toward the drive side, cured by moving to operator.
        ("advance 0.10", -0.1, None),
        ("retard 0.1", 0.1, None),
        ("operator 0.05", None, -0.05),
        ("drive 0.05", None, 0.05),
        ("advance 0.10, drive 0.05", -0.1, 0.05),
        ("Advanced by 0.1 mm", -0.1, None),
        ("toward operator side .2", None, -0.2),
        ("to drive side 0.2mm, retard 0.3", 0.3, 0.2),
    ],
)
def test_words_and_signs(words, circumferential, lateral):
    step = step_of(words)
    assert (step.circumferential_mm, step.lateral_mm) == (circumferential, lateral)


def test_words_come_back():
    assert step_of("drive 0.05, advance 0.10").words == "advance 0.1 mm, drive 0.05 mm"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("", "is no move"),
        ("advance", "is no move"),
        ("0.10", "is no move"),
        ("up 0.1", "is no move"),
        ("advance -0.1", "is no move"),
        ("advance nan", "is no move"),
        ("advance 0.1 drive 0.1", "is no move"),
        ("advance 0", "is no step"),
        ("advance 100", "is no step"),
        ("advance 0.1, retard 0.1", "moves twice on one axis"),
    ],
)
def test_what_is_no_move(words, said):
    with pytest.raises(ValueError, match=said):
        step_of(words)
