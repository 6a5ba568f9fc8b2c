"""Logs of moves: what is refused, what each move is found to have done, what is learned."""

import numpy as np
import pytest
from drift.presses import INKS, JOB, noise_of

from regscan.errors import BadTable
from regscan.offsets.columns import OFFSET_COLUMNS
from regscan.offsets.table import table_of
from regscan.verdict.effects import judge_move
from regscan.verdict.learn import (
    Lesson,
    actuator_words,
    learn,
    lessons_of,
    merged,
    read_lessons,
    write_lessons,
)
from regscan.verdict.movelog import Made, read_moves
from regscan.verdict.seen import between_runs, within_run
from verdict.tracks import drift_of, level, track

HEADER = "station,ink,axis,steps,move_mm,web_m\n"


def log(tmp_path, text, header=HEADER):
    (tmp_path / "moves.csv").write_text(header + text)
    return read_moves(tmp_path / "moves.csv", JOB)


def test_a_log_may_name_station_or_ink_and_steps_or_mm(tmp_path):
    found = log(tmp_path, "2,,circumferential,-12,,100\n,yellow,lateral,,0.05,\n")
    assert [(m.station, m.ink, m.axis, m.move_mm, m.steps, m.web_m) for m in found] == [
        (2, "cyan", "circumferential", -0.12, -12, 100.0),
        (4, "yellow", "lateral", 0.05, 5, None),
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("9,,circumferential,1,,\n", "'9' is not on this press"),
        (",cian,circumferential,1,,\n", "did you mean 'cyan'"),
        ("2,yellow,circumferential,1,,\n", "station 2 prints cyan, not yellow"),
        ("2,,sideways,1,,\n", "axis: cannot be 'sideways'"),
        ("2,,lateral,,,\n", "steps: is empty"),
        ("2,,lateral,1.5,,\n", "no whole number"),
        ("2,,lateral,x,,\n", "'x' is no number"),
        ("2,,lateral,5,0.5,\n", "are not 0.5 mm"),
        (",,lateral,5,,\n", "station: is empty"),
        ("2,,lateral,5,,nan\n", "'nan' is no number"),
        ("", "has a header but no rows"),
    ],
)
def test_bad_lines_are_refused_with_the_reason(tmp_path, text, words):
    with pytest.raises(BadTable) as caught:
        log(tmp_path, text)
    assert words in str(caught.value)


def test_every_bad_line_and_column_is_told_at_once(tmp_path):
    with pytest.raises(BadTable) as caught:
        log(tmp_path, "9,,lateral,1,,\n2,,up,1,,\n")
    assert len(caught.value.problems) == 2
    with pytest.raises(BadTable, match="no column steps or move_mm"):
        log(tmp_path, "2,lateral\n", "station,axis\n")


@pytest.mark.parametrize(
    ("expected", "seen", "sd", "answer"),
    [
        (0.10, 0.098, 0.004, "as expected"),
        (-0.10, -0.085, 0.004, "as expected"),  # a fifth of the move is allowed to miss
        (0.10, 0.06, 0.004, "too little"),
        (0.10, 0.16, 0.004, "too much"),
        (0.10, 0.005, 0.004, "no effect"),
        (0.10, -0.09, 0.004, "wrong way"),
        (-0.10, 0.09, 0.004, "wrong way"),
        (0.10, 0.06, 0.030, "cannot be told"),
        (0.0, 0.0, 0.001, "cannot be told"),
    ],
)
def test_what_a_move_did(expected, seen, sd, answer):
    assert judge_move(expected, seen, sd, 0.01) == answer


def run_with(jumps, seed, metres=200.0, pitch_m=1.0):
    """Offsets of a run: jumps[(ink, axis)] is a list of (web_m at which it moved, mm).

    The reference's own jumps take all others the other way. One camera at the last
    station, one metre between stations: black is last, so its marks are new at the camera.
    """
    rng = np.random.default_rng(seed)
    web = np.arange(0.0, metres, pitch_m)
    rows = []
    for number, ink in enumerate(INKS, 1):
        values = []
        for axis in ("circumferential", "lateral"):
            value = np.zeros(len(web)) if ink == "black" else noise_of(rng, len(web), 0.008, 0.4)
            for at, mm in jumps.get((ink, axis), []) if ink != "black" else []:
                value += mm * (web >= at + (len(INKS) - number))
            for at, mm in jumps.get(("black", axis), []) if ink != "black" else []:
                value -= mm * (web >= at)
            values.append(value)
        rows += [
            {"frame": f"{k:05d}.png", "time_s": m / 2, "web_m": m, "speed_m_min": 120.0,
             "station": number, "ink": ink, "status": "ok",
             "circumferential_mm": values[0][k], "lateral_mm": values[1][k],
             "circumferential_sd_mm": 0.0005, "lateral_sd_mm": 0.0005}
            for k, m in enumerate(web)
        ]  # fmt: skip
    return table_of(rows, OFFSET_COLUMNS)


def made(station, mm, at, axis="circumferential", line=2):
    return Made(line, station, INKS[station - 1], axis, mm, round(mm / 0.01), at)


def answers(moves, jumps, seed=1):
    effects = within_run(moves, run_with(jumps, seed), JOB, "moves.csv")
    return [(e.ink, e.answer) for e in effects]


C = "circumferential"


def test_each_kind_of_fault_is_found_in_a_run():
    for seed in range(5):
        moves = [made(2, -0.12, 80.0)]
        assert answers(moves, {("cyan", C): [(80, -0.12)]}, seed) == [("cyan", "as expected")]
        assert answers(moves, {("cyan", C): [(80, 0.12)]}, seed) == [("cyan", "wrong way")]
        assert answers(moves, {("cyan", C): [(80, -0.06)]}, seed) == [("cyan", "too little")]
        assert answers(moves, {}, seed) == [("cyan", "no effect")]
        wrong = answers(moves, {("yellow", C): [(80, -0.12)]}, seed)
        assert wrong == [("cyan", "wrong station")]


def test_the_station_moved_by_mistake_is_named():
    (effect,) = within_run(
        [made(2, -0.12, 80.0)], run_with({("yellow", C): [(80, -0.12)]}, 3), JOB, "moves.csv"
    )
    assert "yellow (station 4) did" in effect.why


def test_moves_of_several_stations_at_one_place_are_told_apart():
    moves = [made(1, 0.2, 80.0), made(2, -0.12, 80.0), made(5, 0.1, 80.0)]
    jumps = {("white", C): [(80, 0.2)], ("cyan", C): [(80, -0.12)], ("black", C): [(80, 0.1)]}
    assert answers(moves, jumps) == [
        ("white", "as expected"), ("cyan", "as expected"), ("black", "as expected"),
    ]  # fmt: skip


def test_a_reference_that_did_not_move_is_found():
    assert answers([made(5, 0.1, 80.0)], {}) == [("black", "no effect")]
    assert answers([made(5, 0.1, 80.0)], {("black", C): [(80, -0.1)]}) == [("black", "wrong way")]


def test_moves_one_after_the_other_and_too_close():
    moves = [made(2, -0.12, 60.0), made(2, 0.08, 120.0, line=3)]
    jumps = {("cyan", C): [(60, -0.12), (120, 0.04)]}
    assert answers(moves, jumps) == [("cyan", "as expected"), ("cyan", "too little")]
    late = [made(2, -0.12, 198.0)]
    assert answers(late, {("cyan", C): [(198, -0.12)]}) == [("cyan", "cannot be told")]


def test_moves_between_two_runs():
    before = drift_of(track(settled=0.15), track("yellow", settled=0.0))
    after = drift_of(track(settled=0.03), track("yellow", settled=0.0))
    (effect,) = between_runs([made(2, -0.12, None)], before, after, JOB)
    assert (effect.answer, effect.seen_mm) == ("as expected", pytest.approx(-0.12))
    # The reference 0.05 later takes both the other way.
    after = drift_of(track(settled=-0.02), track("yellow", settled=-0.05))
    found = between_runs([made(2, -0.12, None), made(5, 0.05, None)], before, after, JOB)
    assert [e.answer for e in found] == ["as expected", "as expected"]
    assert found[1].seen_mm == pytest.approx(0.05)
    # What a colour did on one axis says nothing of the other.
    both = [made(2, -0.12, None), made(2, 0.3, None, "lateral")]
    before = drift_of(track(settled=0.15), track(axis="lateral", settled=-0.2))
    after = drift_of(track(settled=0.03), track(axis="lateral", settled=0.1))
    assert [e.answer for e in between_runs(both, before, after, JOB)] == ["as expected"] * 2
    unseen = between_runs([made(3, 0.1, None)], before, after, JOB)
    assert unseen[0].answer == "cannot be told"


def test_moves_without_a_place_are_refused():
    with pytest.raises(BadTable, match="no place among the frames"):
        within_run([made(2, 0.1, None)], run_with({}, 1), JOB, "moves.csv")


def lessons(gain, play, rng, moves=(0.3, -0.2, 0.15, -0.3, 0.2, 0.25), sd=0.004):
    found, last = [], None
    for line, mm in enumerate(moves, 2):
        sign = int(np.sign(mm))
        turns = None if last is None else (sign if sign != last else 0)
        seen = gain * mm - play * (sign if last is None or sign != last else 0)
        found.append(
            Lesson("run", line, 2, C, mm, turns, seen + rng.normal(0, sd), sd, "as expected")
        )
        last = sign
    return found


@pytest.mark.parametrize(("gain", "play"), [(1.0, 0.03), (0.9, 0.0), (1.1, 0.05), (-1.0, 0.02)])
def test_step_play_and_direction_are_learned_within_their_doubt(gain, play):
    pulls = []
    for seed in range(60):
        signed = lessons(gain, play * np.sign(gain), np.random.default_rng(seed))
        found = learn(signed, JOB)[2, C]
        assert (found.step_mm < 0) == (gain < 0)
        pulls.append((found.step_mm / 0.01 - gain) / (found.step_sd * abs(found.step_mm) / 0.01))
    assert 0.7 < np.std(pulls) < 1.3
    assert abs(np.mean(pulls)) < 0.5


def test_play_is_learned():
    found = [learn(lessons(1.0, 0.04, np.random.default_rng(s)), JOB)[2, C] for s in range(40)]
    pulls = [(one.play_mm - 0.04) / one.play_sd_mm for one in found]
    assert 0.6 < np.std(pulls) < 1.4


def test_moves_too_small_for_their_doubt_teach_nothing():
    small = lessons(1.0, 0.0, np.random.default_rng(1), moves=(0.01, 0.02), sd=0.01)
    assert learn(small, JOB) == {}


def test_what_was_learned_is_said():
    found = learn(lessons(0.9, 0.03, np.random.default_rng(2), sd=0.001), JOB)[2, C]
    words = actuator_words(found, 0.01)
    assert words.startswith("one step moves 0.0090")
    assert "(stated 0.01); play 0.0" in words
    turned = learn(lessons(-1.0, 0.0, np.random.default_rng(2)), JOB)[2, C]
    assert actuator_words(turned, 0.01).endswith("it runs against the job's direction")


def test_the_presses_file_is_kept_and_told_moves_replace_old_ones(tmp_path):
    path = tmp_path / "press.csv"
    assert read_lessons(path, JOB) == []
    old = lessons(1.0, 0.03, np.random.default_rng(1))
    write_lessons(path, old)
    again = read_lessons(path, JOB)
    assert [(o.line, o.turns) for o in again] == [(o.line, o.turns) for o in old]
    assert again[0].seen_mm == pytest.approx(old[0].seen_mm, abs=1e-6)
    assert len(merged(again, old[:2])) == len(old)


@pytest.mark.parametrize(
    "line", ["r,2,9,lateral,0.1,,0.1,0.01,x", "r,2,1,up,0.1,,0.1,0.01,x",
             "r,2,1,lateral,nan,,0.1,0.01,x", "r,2,1,lateral,0.1,,0.1,-1,x"]
)  # fmt: skip
def test_a_presses_file_of_another_press_is_refused(tmp_path, line):
    header = "run,line,station,axis,noted_mm,turns,seen_mm,sd_mm,answer"
    (tmp_path / "press.csv").write_text(f"{header}\n{line}\n")
    with pytest.raises(BadTable, match="line 2"):
        read_lessons(tmp_path / "press.csv", JOB)


def test_lessons_leave_out_what_was_not_told():
    effects = within_run(
        [made(2, -0.12, 80.0), made(4, 0.1, 199.0)],
        run_with({("cyan", C): [(80, -0.12)]}, 1), JOB, "moves.csv",
    )  # fmt: skip
    assert [one.station for one in lessons_of(effects, "run")] == [2]


def test_one_level_of_doubt_is_enough(monkeypatch):
    before = drift_of(track(settled=level(0.15, sd_mm=None)))
    after = drift_of(track(settled=0.03))
    (effect,) = between_runs([made(2, -0.12, None)], before, after, JOB)
    assert effect.answer == "cannot be told"
