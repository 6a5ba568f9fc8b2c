"""The page of a history: its facts, its words, and that nothing in it comes from a network."""

import json
import re
from datetime import datetime

import pytest

from regscan.history.charts import LARGE, month_ticks, trend_still, waste_still
from regscan.history.facts import history_facts
from regscan.history.health import Asked, health_of
from regscan.history.page import page
from regscan.history.store import open_history
from regscan.history.waste import waste_of
from regscan.report.still import Scale
from tests.history.invented import entry, kept, setting
from tests.history.test_ranking import PLAY_OF_3, weekly

EVIL = '</script><img src=x onerror="alert(1)">'


def health_and_facts(path, runs):
    with open_history(path, create=True) as history:
        for run in runs:
            history.add(run)
        health = health_of(history, Asked())
        return health, history_facts(history, health)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    path = tmp_path_factory.mktemp("history") / "h"
    return health_and_facts(path, weekly(1, 26, {PLAY_OF_3: 0.03 / 26}))


def test_the_facts_are_json_and_the_page_says_them(made):
    _, facts = made
    assert json.loads(json.dumps(facts, allow_nan=False))
    html = page(facts)
    assert "<h1>Look at station 3 (magenta) first</h1>" in html
    assert facts["looks"][0]["reasons"][0]["sentence"].replace("<", "&lt;") in html
    assert "machine maker&#39;s instructions" in html
    assert len(re.findall(r'<svg class="still trend small"', html)) == 32


def test_it_opens_without_a_network(made):
    html = page(made[1])
    assert not re.findall(r'(?:src|href)="(?!#|data:)', html)
    assert "http://" not in re.sub(r"http://www\.w3\.org/\S+", "", html)


def test_names_are_text_and_never_markup(tmp_path):
    runs = [
        kept(k, k, run.readings, [setting(1, EVIL, 0.1, 0.0)], job=EVIL, note=EVIL)
        for k, run in enumerate(weekly(2, 8))
    ]
    html = page(health_and_facts(tmp_path / "h", runs)[1])
    assert "<img" not in html
    assert html.count("</script>") == 3


def test_points_lie_where_their_numbers_say(made):
    health, _ = made
    trend = next(t for t in health.trends if (t.station, t.axis, t.measure) == PLAY_OF_3)
    span = trend.points[0].when_s, trend.points[-1].when_s
    drawn = trend_still(trend, LARGE, span)
    assert len(drawn["points"]) == 26
    # The line through them climbs, and drawing units count downward.
    assert drawn["line"][3] < drawn["line"][1]
    value_of = Scale(drawn["zero"], drawn["y_ticks"][-1][0], 0.0, float(drawn["y_ticks"][-1][1]))
    for point, told in zip(drawn["points"], trend.points, strict=True):
        assert value_of(point["y"]) == pytest.approx(told.value, abs=0.06)
    for place in drawn["points"]:
        assert LARGE.left < place["x"] < LARGE.width - LARGE.right


def test_the_axis_names_first_days_of_months():
    span = [datetime(2026, 1, 20).timestamp(), datetime(2027, 2, 10).timestamp()]
    marks = month_ticks(Scale(*span, 0.0, 100.0), 6)
    assert [words for _, words in marks] == ["Feb 26", "May 26", "Aug 26", "Nov 26", "Feb 27"]
    short = [datetime(2026, 1, 3).timestamp(), datetime(2026, 1, 9).timestamp()]
    assert [words for _, words in month_ticks(Scale(*short, 0.0, 1.0), 6)] == [
        "3 Jan 26",
        "9 Jan 26",
    ]


def test_waste_is_summed_by_month_and_the_unknown_is_in_no_sum():
    runs = [
        entry(1, 0, made_at="2026-01-31T23:59:00+01:00", metres=100.0, metres_outside=10.0),
        entry(2, 0, made_at="2026-02-01T00:01:00+01:00", metres=300.0, metres_outside=0.0),
        entry(3, 0, made_at="2026-02-10T00:00:00+01:00", metres=None, metres_outside=None,
              answer="out of tolerance"),
    ]  # fmt: skip
    january, february = waste_of(runs)
    assert (january.month, january.metres_outside, january.share) == ("2026-01", 10.0, 0.1)
    assert (february.runs, february.unknown, february.out) == (2, 1, 1)
    assert (february.metres, february.share) == (300.0, 0.0)
    (alone,) = waste_of(runs[2:])
    assert alone.share is None  # not known is not zero
    assert not waste_still([alone])["bars"][0]["known"]


def test_too_few_runs_say_so_and_draw_what_there_is(tmp_path):
    _, facts = health_and_facts(tmp_path / "h", weekly(3, 3))
    assert facts["heading"] == "Too few runs yet"
    html = page(facts)
    assert "too few to compare" in html
