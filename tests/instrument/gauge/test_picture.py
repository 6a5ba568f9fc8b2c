"""The picture is a whole SVG file, escapes what users write, and shows every value once."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest

from regscan.instrument.gauge.arrange import View
from regscan.instrument.gauge.judge import judge
from regscan.instrument.gauge.picture import gauge_picture
from tests.instrument.gauge.reference import MSA
from tests.instrument.gauge.test_judge import JOB, study_of

SVG = "{http://www.w3.org/2000/svg}"


def drawn(values, title="Study", ink="cyan"):
    studies = {View(ink, "circumferential"): study_of(values)}
    gauges = judge(studies, JOB, "anova", "study.csv")
    return ElementTree.fromstring(gauge_picture(gauges, studies, title))


def circles(root):
    """Round marks: those of the chart over time and of the first set-up."""
    return [p for p in root.iter(f"{SVG}path") if re.match(r"M\S+ \S+a", p.get("d"))]


def test_what_users_write_is_escaped():
    root = drawn(MSA, title='<b>Honey & "jar"')
    assert root.find(f"{SVG}title").text.startswith('<b>Honey & "jar"')
    assert any(t.text == '<b>Honey & "jar"' for t in root.iter(f"{SVG}text"))


@pytest.mark.parametrize("shape", [(1, 1, 12), (3, 1, 4), (3, 2, 4)])
def test_every_value_is_drawn(shape):
    rng = np.random.default_rng(2)
    values = rng.standard_normal(shape)
    root = drawn(values)
    by_position = 0 if shape[0] == 1 else values[:, 0].size
    by_position += shape[1] > 1  # and the first set-up's in the key
    assert len(circles(root)) == values.size + by_position


def test_nothing_lies_outside_the_sheet():
    root = drawn(MSA)
    width, height = (float(root.get(side)) for side in ("width", "height"))
    for text in root.iter(f"{SVG}text"):
        assert 0.0 <= float(text.get("x")) <= width
        assert 0.0 <= float(text.get("y")) <= height
    for path in root.iter(f"{SVG}path"):
        start = re.match(r"M(\S+) (\S+?)[La]", path.get("d"))
        if start:
            assert -5.0 <= float(start[1]) <= width
            assert -5.0 <= float(start[2]) <= height


def test_the_answer_stands_in_words():
    texts = [t.text for t in drawn(MSA).iter(f"{SVG}text")]
    assert any(text.startswith("Not good enough for this tolerance") for text in texts)
    assert "10 %" in texts
    assert "30 %" in texts
