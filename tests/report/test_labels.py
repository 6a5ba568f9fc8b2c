from hypothesis import given
from hypothesis import strategies as st

from regscan.report.labels import Box, labels_in_view, place_labels


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


def test_the_nearest_free_place_is_taken_whatever_the_rounding():
    """0.1 and its like are not exact in floats: an area of 1e-12 must not drive a label away."""
    frame = Box(0.0, 0.0, 1000.3, 1000.7)
    thing = Box(382.7634, 418.4340666666667, 172.66666666666663, 188.72)
    (label,) = place_labels([thing], [(184.0, 65.0)], frame, 6.0)
    assert label.top + label.height == thing.top - 6.0
    assert abs(label.centre[0] - thing.centre[0]) < 1e-9


@given(
    st.lists(st.tuples(st.integers(0, 640), st.integers(0, 480)), min_size=1, max_size=12),
    st.integers(5, 90),
)
def test_labels_in_view_cover_nothing_whatever_it_takes(places, half):
    things = [Box.about(float(x), float(y), half, half) for x, y in places]
    view = Box(0.0, 0.0, 640.0, 480.0)
    sizes = [(90.0 + 7 * k, 25.0 + 9 * (k % 4)) for k in range(len(things))]
    labels, frame = labels_in_view(things, sizes, view)
    assert [(box.width, box.height) for box in labels] == sizes
    assert frame.overlap(view) == view.width * view.height
    for k, label in enumerate(labels):
        assert label.outside(frame) < 1e-6
        assert sum(label.overlap(thing) for thing in things if thing.outside(view) == 0) < 1e-6
        assert sum(label.overlap(other) for other in labels[:k]) == 0


def test_a_label_stands_beside_the_picture_when_there_is_no_room_in_it():
    things = [Box.about(50.0, 50.0, 49.0, 49.0)]
    (label,), frame = labels_in_view(things, [(60.0, 30.0)], Box(0.0, 0.0, 100.0, 100.0))
    assert label.left >= 100.0
    assert frame.width > 160.0
