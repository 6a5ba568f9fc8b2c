import pytest

from regscan.report.words import count, listed, offset_words, plain, side, signed


@pytest.mark.parametrize(
    ("axis", "mm", "words"),
    [
        ("circumferential", 0.0621, "0.062 mm late"),
        ("circumferential", -0.0621, "0.062 mm early"),
        ("lateral", 0.1, "0.100 mm to drive side"),
        ("lateral", -0.1, "0.100 mm to operator side"),
        ("lateral", 0.0004, "on place"),
        ("lateral", -0.0005, "0.001 mm to operator side"),
    ],
)
def test_words_follow_the_contracts_signs(axis, mm, words):
    assert offset_words(axis, mm) == words


def test_words_carry_the_doubt_that_is_known():
    assert offset_words("circumferential", -0.0621, 0.0042) == "0.062 ±0.004 mm early"
    assert offset_words("lateral", 0.0, 0.0042) == "on place, 0.000 ±0.004 mm"


def test_a_side_is_never_claimed_for_what_shows_as_zero():
    assert side("circumferential", -0.0004) == "on place"
    assert signed(-0.0004) == "0.000"


def test_numbers():
    assert (signed(0.0621), signed(-1.5, 1)) == ("+0.062", "−1.5")
    assert (plain(50.4), plain(-0.04, 1)) == ("50", "0.0")
    assert (count(1, "stretch", "stretches"), count(2, "frame")) == ("1 stretch", "2 frames")
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert (listed(["a"]), listed([])) == ("a", "")
