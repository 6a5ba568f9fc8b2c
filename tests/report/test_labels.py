from hypothesis import given
from hypothesis import strategies as st

from regscan.report.labels import Box, place_labels


def test_labels_cover_nothing_where_there_is_room():
    things = [Box.about(200 * k, 0, 30, 30) for k in range(4)]
    sizes = [(120.0, 40.0)] * 4
    labels = place_labels(things, sizes)
    for k, label in enumerate(labels):
        assert sum(label.overlap(thing) for thing in things) == 0
        assert sum(label.overlap(other) for other in labels[:k]) == 0


def test_a_label_stays_inside_the_frame_when_it_can():
    frame = Box(0, 0, 300, 200)
    (label,) = place_labels([Box.about(280, 100, 15, 15)], [(100.0, 30.0)], frame)
    assert label.outside(frame) == 0


@given(st.lists(st.tuples(st.integers(0, 900), st.integers(0, 700)), min_size=1, max_size=9))
def test_every_thing_gets_a_label_of_its_size(places):
    things = [Box.about(float(x), float(y), 20, 20) for x, y in places]
    labels = place_labels(things, [(80.0, 30.0)] * len(things), Box(0, 0, 1000, 800))
    assert len(labels) == len(things)
    for label in labels:
        assert abs(label.width - 80) < 1e-9
        assert abs(label.height - 30) < 1e-9
