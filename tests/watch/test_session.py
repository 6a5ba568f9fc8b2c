"""A watched job, fed with made-up frames: states, moves, waits, checks, zero, going on."""

import pytest

from regscan.offsets.table import read_offsets
from regscan.run import load_run
from regscan.verdict.movelog import Made, read_moves
from regscan.watch.finish import finish
from regscan.watch.refused import Refused
from regscan.watch.telling import Around, tell
from tests.watch.records import GIVEN, JOB, feed, session_in, state, told

LATE = {"cyan": (0.16, 0.0)}


def move(session, ink="cyan", mm=-0.16, axis="circumferential"):
    info = session.memory.newest.info
    number = JOB.station_of(ink).number
    line = len(session.pending.moves) + 2
    session.made(Made(line, number, ink, axis, mm, round(mm / 0.01), info.web_m, info.time_s))


def watched(session, age_s=0.5, queued=0):
    return tell(session, Around(1, queued, age_s, (0, ""), ()))


def test_before_the_first_frame(tmp_path):
    now = watched(session_in(tmp_path), None)
    assert now.condition == "no frames"
    assert now.moves == now.waits == ()
    assert {s.condition for s in now.stations} == {"no frames", "reference"}


@pytest.mark.parametrize(
    ("fed", "condition"),
    [
        ({}, "in register"),
        ({"places": LATE}, "out of tolerance"),
        ({"places": {"cyan": (0.0, -0.16)}}, "out of tolerance"),
        ({"places": {"cyan": (0.1, 0.0)}}, "cannot be decided"),  # on the edge of its tolerance
        ({"lost": ("cyan",)}, "not found"),
        ({"doubtful": ("cyan",)}, "doubtful"),
    ],
)
def test_one_colour_decides_what_the_press_is(tmp_path, fed, condition):
    session = session_in(tmp_path)
    feed(session, 1, 14, **fed)
    now = watched(session)
    assert now.condition == condition
    assert state(session, "cyan").condition == condition
    assert state(session, "magenta").condition == "in register"
    if condition != "in register":
        assert "cyan" in now.sentence


def test_a_colour_that_is_not_found_shows_no_old_value(tmp_path):
    session = session_in(tmp_path)
    feed(session, 1, 10)
    feed(session, 11, 12, lost=("cyan",))
    assert {axis.now_mm for axis in state(session, "cyan").axes} == {None}
    assert told(session, "lost") == ["Station 3 cyan: no such mark found"]


def test_one_lost_mark_is_no_lost_colour(tmp_path):
    session = session_in(tmp_path)
    feed(session, 1, 10)
    feed(session, 11, 11, lost=("cyan",))
    assert state(session, "cyan").condition == "in register"


def test_without_the_reference_nothing_is_in_register(tmp_path):
    session = session_in(tmp_path)
    every = tuple(ink.name for ink in JOB.inks)
    feed(session, 1, 3, lost=every)
    assert watched(session).condition == "not found"
    assert session.now.moves == ()


@pytest.mark.parametrize("age_s", [31.0, None])
def test_old_frames_are_not_shown_as_now(tmp_path, age_s):
    session = session_in(tmp_path)
    feed(session, 1, 8)
    assert watched(session, age_s).condition == "no new frames"
    assert watched(session, age_s, queued=3).condition == "in register"


def test_the_move_that_brings_a_colour_back(tmp_path):
    session = session_in(tmp_path)
    feed(session, 1, 14, LATE)
    (advised,) = session.now.moves
    assert (advised.station, advised.axis, advised.steps) == (3, "circumferential", -16)
    assert advised.words.startswith("advance 0.16 mm")
    path = JOB.press.path_to_camera_m(3, "end")
    assert advised.wait_m == pytest.approx(path)
    (words,) = told(session, "left tolerance")
    assert words.startswith("Station 3 cyan: out of tolerance, 0.16")


def test_after_a_move_its_station_waits_and_is_not_corrected_again(tmp_path):
    session = session_in(tmp_path)
    feed(session, 1, 14, LATE)
    move(session)
    path = JOB.press.path_to_camera_m(3, "end")
    (wait,) = session.waits()
    assert wait.left_m == pytest.approx(path)
    feed(session, 15, 16, LATE)  # still printed before the move
    (wait,) = session.waits()
    assert wait.left_m == pytest.approx(path - 2.0)
    assert state(session, "cyan").condition == "wait"
    assert session.now.moves == ()
    feed(session, 17, 32)
    assert session.waits() == ()
    assert state(session, "cyan").condition == "in register"


def test_both_moves_of_a_station_can_be_made_one_after_the_other(tmp_path):
    session = session_in(tmp_path)
    feed(session, 1, 14, {"cyan": (0.16, -0.12)})
    assert [m.axis for m in session.now.moves] == ["circumferential", "lateral"]
    move(session)
    (left,) = session.now.moves  # the other axis does not wait for this one
    assert (left.axis, left.steps) == ("lateral", 12)
    assert [a.condition for a in state(session, "cyan").axes] == ["wait", "out of tolerance"]
    move(session, mm=0.12, axis="lateral")
    assert session.now.moves == ()
    assert [w.after for w in session.waits()] == [
        "advance 0.16 mm",
        "move 0.12 mm toward drive side",
    ]
    feed(session, 15, 19, {"cyan": (0.16, -0.12)})
    feed(session, 20, 45)
    assert len(told(session, "move checked")) == 2
    assert all(": as expected" in words for words in told(session, "move checked"))


@pytest.mark.parametrize(
    ("after", "answer"),
    [({}, "as expected"), (LATE, "no effect"), ({"cyan": (0.32, 0.0)}, "wrong way")],
)
def test_a_made_move_is_checked(tmp_path, after, answer):
    session = session_in(tmp_path)
    feed(session, 1, 14, LATE)
    move(session)
    feed(session, 15, 19, LATE)
    assert told(session, "move checked") == []
    feed(session, 20, 45, after)
    (words,) = told(session, "move checked")
    assert words.startswith(f"Station 3 cyan: {answer}.")
    assert told(session, "shift") == []  # it was asked for


def test_moving_the_reference_keeps_all_waiting(tmp_path):
    session = session_in(tmp_path)
    feed(session, 1, 10)
    move(session, JOB.reference, 0.05)
    feed(session, 11, 12)
    assert {s.condition for s in session.stations} == {"wait", "reference"}


def test_without_web_positions_somebody_says_that_it_has_passed(tmp_path):
    session = session_in(tmp_path)
    feed(session, 1, 14, LATE, web=False)
    move(session)
    feed(session, 15, 30, web=False)
    (wait,) = session.waits()
    assert wait.left_m is None
    session.waited()
    feed(session, 31, 36, web=False)
    assert session.waits() == ()
    assert state(session, "cyan").condition == "in register"
    with pytest.raises(Refused, match="No move waits"):
        session.waited()


def test_a_slow_drift_is_foretold_before_it_leaves_tolerance(tmp_path):
    session = session_in(tmp_path)
    feed(session, 1, 60)
    feed(session, 61, 159, lambda number: {"cyan": (0.0008 * (number - 60), 0.0)})
    assert state(session, "cyan").condition == "in register"
    assert any("leaves tolerance" in words for words in told(session, "early warning"))
    assert any("leaves tolerance" in axis.warning for axis in state(session, "cyan").axes)
    assert "leaves tolerance" in watched(session).sentence


class TestZero:
    def test_offsets_count_from_the_approved_print(self, tmp_path):
        session = session_in(tmp_path)
        feed(session, 1, 20, {"cyan": (0.06, -0.04)})
        session.approve()
        feed(session, 21, 24, {"cyan": (0.06, -0.04)})
        along, across = state(session, "cyan").axes
        assert along.now_mm == pytest.approx(0.0, abs=0.004)
        assert across.now_mm == pytest.approx(0.0, abs=0.004)
        assert "the approved print" in watched(session).zero

    def test_a_second_approval_counts_from_the_design_again_and_not_twice(self, tmp_path):
        session = session_in(tmp_path)
        feed(session, 1, 12, {"cyan": (0.06, 0.0)})
        session.approve()
        feed(session, 13, 24, {"cyan": (0.09, 0.0)})
        assert state(session, "cyan").axes[0].now_mm == pytest.approx(0.03, abs=0.005)
        session.approve()
        places = {mark.ink: mark.place for mark in session.zero.marks}
        assert places["cyan"].circumferential_mm == pytest.approx(0.09, abs=0.003)

    @pytest.mark.parametrize(("frames", "lost"), [(4, ()), (12, ("cyan",))])
    def test_too_little_is_no_zero(self, tmp_path, frames, lost):
        session = session_in(tmp_path)
        feed(session, 1, frames, lost=lost)
        with pytest.raises(Refused, match="cyan"):
            session.approve()
        assert session.zero is None

    def test_no_zero_while_a_move_does_not_show(self, tmp_path):
        session = session_in(tmp_path)
        feed(session, 1, 14, LATE)
        move(session)
        with pytest.raises(Refused, match="wait"):
            session.approve()

    def test_it_is_named_in_the_results(self, tmp_path):
        session = session_in(tmp_path)
        feed(session, 1, 12, {"cyan": (0.06, 0.0)})
        session.approve()
        assert finish(session, tmp_path)
        run = load_run(session.kept.folder / "run.json")
        assert run.job.zero == "approved"
        assert any("approved print" in note for note in run.inputs.notes)
        assert "approved" in run.verdict.rule
        table = read_offsets(session.kept.folder / "offsets.csv")
        cyan = table[table["ink"] == "cyan"]["circumferential_mm"]
        assert cyan.mean() == pytest.approx(0.0, abs=0.004)


class TestGoingOn:
    def test_a_restart_knows_frames_moves_and_zero(self, tmp_path):
        session = session_in(tmp_path)
        feed(session, 1, 12, {"cyan": (0.06, 0.0)})
        session.approve()
        feed(session, 13, 24, {"cyan": (0.22, 0.0)})
        move(session)
        session.kept.close()
        session.log.close()
        later = session_in(tmp_path)
        assert later.memory.measured == 24
        assert later.zero == session.zero
        assert [w.station for w in later.waits()] == [3]
        assert later.log.number == session.log.number  # nothing is told twice
        feed(later, 25, 29, {"cyan": (0.22, 0.0)})
        feed(later, 30, 50, {"cyan": (0.06, 0.0)})
        assert told(later, "move checked")[0].startswith("Station 3 cyan: as expected")

    def test_another_job_begins_anew_and_leaves_the_old_folder(self, tmp_path):
        session = session_in(tmp_path)
        feed(session, 1, 3)
        session.kept.close()
        session.log.close()
        later = session_in(tmp_path, anew=True)
        assert later.memory.measured == 0
        assert later.kept.folder != session.kept.folder
        assert (session.kept.folder / "frames.jsonl").exists()


def test_the_log_of_moves_is_the_one_that_correct_reads(tmp_path):
    session = session_in(tmp_path)
    feed(session, 1, 14, LATE)
    move(session)
    move(session, "green", 0.05, "lateral")
    read = read_moves(session.kept.folder / "moves.csv", GIVEN.job)
    assert [(m.ink, m.axis, m.move_mm, m.web_m) for m in read] == [
        ("cyan", "circumferential", -0.16, 14.0),
        ("green", "lateral", 0.05, 14.0),
    ]
