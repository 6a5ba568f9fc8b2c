import pytest

from regscan.report.still import BOTTOM, HEIGHT, LEFT, RIGHT, TOP, WIDTH, Scale, still, ticks


@pytest.mark.parametrize(
    ("low", "high", "about", "wanted"),
    [
        (0.0, 300.0, 6, [0, 50, 100, 150, 200, 250, 300]),
        (-0.13, 0.13, 5, [-0.1, 0.0, 0.1]),
        (7.0, 7.0, 5, [7.0]),
    ],
)
def test_ticks_are_round(low, high, about, wanted):
    assert ticks(low, high, about) == pytest.approx(wanted)


def test_scale_ends_and_what_lies_beyond():
    scale = Scale(-1.0, 1.0, 100.0, 0.0)
    assert [scale(v) for v in (-1.0, 0.0, 1.0)] == [100.0, 50.0, 0.0]
    assert scale.inside(5.0) == 0.0


def test_all_drawn_points_lie_in_the_frame(facts):
    for curve in facts["charts"]["curves"]:
        drawn = still(facts["charts"], curve)
        points = [p.split(",") for line in drawn["lines"] for p in line.split()]
        assert points
        for x, y in points:
            assert LEFT <= float(x) <= WIDTH - RIGHT
            assert TOP <= float(y) <= HEIGHT - BOTTOM


def test_missing_frames_break_the_line_and_doubtful_ones_do_not(facts):
    curves = {(c["ink"], c["axis"]): c for c in facts["charts"]["curves"]}
    white = still(facts["charts"], curves["white", "lateral"])
    yellow = still(facts["charts"], curves["yellow", "circumferential"])
    assert (len(white["lines"]), len(white["missing"])) == (2, 3)
    assert (len(yellow["lines"]), len(yellow["doubtful"])) == (1, 1)


def test_frames_outside_are_marked_and_stretches_hatched(facts, invented):
    curve = next(
        c for c in facts["charts"]["curves"] if (c["ink"], c["axis"]) == ("cyan", "circumferential")
    )
    track = next(t for t in invented[0].drift.tracks if t.ink == "cyan" and t.stretches)
    drawn = still(facts["charts"], curve)
    assert len(drawn["outside"]) == track.frames_outside
    assert len(drawn["stretches"]) == len(track.stretches)
