"""The tutorials do what they say: commands and Python run, and print what is shown."""

import cv2
import numpy as np
import pytest
from tutorials import ENGINEER, OPERATOR, WIDE_PX, pictures, reduced, run, same_words, steps

HINT = "run: python tests/generate_tutorials.py"


@pytest.mark.parametrize("page", [OPERATOR, ENGINEER], ids=lambda page: page.stem)
def test_a_tutorial_runs_and_shows_what_it_gives(page, tmp_path):
    text = page.read_text(encoding="utf-8")
    blocks = steps(text)
    assert len(blocks) >= 6
    assert text.count("```sh") + text.count("```python") == len(blocks)
    for block, printed in zip(blocks, run(blocks, tmp_path), strict=True):
        if block.told is not None:
            now = block.shown(printed)
            assert same_words(block.told, now), f"{HINT}\n{block.code}\nnow prints:\n{now}"
    for place, source in pictures(text):
        kept, now = cv2.imread(str(place)), reduced(tmp_path / source)
        assert kept.shape == now.shape
        assert kept.shape[1] == WIDE_PX
        assert np.abs(kept.astype(float) - now).mean() < 5.0, f"{HINT} ({place.name})"


def test_every_picture_of_the_tutorials_is_made_by_their_commands():
    for page in (OPERATOR, ENGINEER):
        text = page.read_text(encoding="utf-8")
        assert text.count("![") == len(list(pictures(text)))


@pytest.mark.parametrize(
    ("now", "same"),
    [
        ("late 0.121 ±0.004", True),  # the last digit may differ between machines
        ("late  0.120   ±0.004", True),
        ("late 0.130 ±0.004", False),
        ("early 0.120 ±0.004", False),
        ("late 0.120", False),
        ("late 0.120 or 0.004", False),
    ],
)
def test_what_counts_as_the_same(now, same):
    assert same_words("late 0.120 ±0.004", now) is same


@pytest.mark.parametrize(
    ("told", "now", "same"),
    [
        ("late 0.001 ±0.003", "early 0.001 ±0.003", True),  # on place, as near as can be told
        ("early 0.001 ±0.003", "0.000 ±0.003", True),
        ("-0.000 mm", "+0.001 mm", True),
        ("to drive 0.013 ±0.003", "to oper. 0.013 ±0.003", False),
        ("-0.011 mm", "+0.011 mm", False),
    ],
)
def test_sides_count_unless_next_to_zero(told, now, same):
    assert same_words(told, now) is same
