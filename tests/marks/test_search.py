"""Where marks are looked for: when a second reading of the light is worth its time."""

from dataclasses import replace

import pytest

from regscan.job.layout import Cross
from regscan.marks.finding.search import Search
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Look, Sensor, Shot, Streak
from tests.marks.conftest import six_colours

STREAK = Streak(aside_mm=0.6, width_mm=0.5, gain=0.8)


def searched(job, camera, offsets, streaks=()):
    look = Look(sensor=Sensor(noise_grey=2.0, exposure=0.5), streaks=streaks)
    frame, _ = draw_frame(job, camera, offsets, look, Shot(480, 640))
    search = Search(job, camera, job.marks)
    view = search.view(frame.pixels)
    return search, view, search.choose(view, search.seen(view))


def test_marks_seen_where_they_are_due_need_no_second_look(job, camera):
    search, view, choice = searched(job, camera, {})
    assert not search.light_may_mislead(view, choice)


def test_marks_designed_on_each_other_need_none_for_looking_unlike_themselves(camera):
    job = six_colours((Cross(0.7, 0.12),) * 6)
    pile = tuple(replace(mark, circumferential_mm=0.0, lateral_mm=0.0) for mark in job.marks[:2])
    job = replace(job, marks=(*pile, *job.marks[2:]))
    search, view, choice = searched(job, camera, {"magenta": (0.02, 0.05)})
    unlike = {n: replace(c, likeness=0.5) for n, c in choice.chosen.items() if n < 2}
    choice = replace(choice, chosen=choice.chosen | unlike)
    assert not search.light_may_mislead(view, choice)


@pytest.mark.parametrize("number", range(6))
def test_a_mark_taken_for_seen_on_another_one_gets_a_second_look(job, camera, number):
    """It is not at its own place in this light, and the likeliest of what is left lies there."""
    search, view, choice = searched(job, camera, {}, (STREAK,))
    other = choice.chosen[(number + 1) % 6]
    taken = replace(choice.chosen[number], row_px=other.row_px, col_px=other.col_px, likeness=0.3)
    choice = replace(choice, chosen=choice.chosen | {number: taken})
    assert search.light_may_mislead(view, choice)


def test_in_even_light_a_second_reading_would_show_nothing_else(job, camera):
    search, view, choice = searched(job, camera, {})
    lost = {number: one for number, one in choice.chosen.items() if number}
    assert not search.light_may_mislead(view, replace(choice, chosen=lost))
    search, view, choice = searched(job, camera, {}, (STREAK,))
    assert search.light_may_mislead(view, replace(choice, chosen=lost))


@pytest.mark.parametrize(
    ("row", "col"), [(-200.0, 50.0), (50.0, -300.0), (900.0, 50.0), (0.0, 2e3)]
)
def test_beyond_the_frame_nothing_touches_a_mark(job, camera, row, col):
    search, view, choice = searched(job, camera, {})
    assert not search.touched(view, 0, replace(choice.chosen[0], row_px=row, col_px=col))
