"""Offsets in words: the number, its doubt where that is known, and the side it lies on."""

import pytest

from regscan.drift.words import doubted, lies


@pytest.mark.parametrize(
    ("sd_mm", "said"),
    [
        (None, "0.112 mm"),
        (0.0042, "0.112 ±0.004 mm"),
        (0.0008, "0.112 ±0.001 mm"),
        (0.00034, "0.112 ±0.0003 mm"),  # never ±0.000: nothing is known for certain
    ],
)
def test_a_length_carries_its_doubt(sd_mm, said):
    assert doubted(0.112, sd_mm) == said


def test_the_side_is_a_word_and_no_sign():
    assert lies("circumferential", -0.05, 0.003) == "0.050 ±0.003 mm early"
    assert lies("lateral", 0.05) == "0.050 mm toward the drive side"
