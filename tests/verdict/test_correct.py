"""Moves: size, steps, words, and when to leave a station alone."""

import csv
from dataclasses import replace

import numpy as np
import pytest
from drift.presses import INKS, JOB, Made, make_job, make_table

from regscan.drift.describe import describe_run
from regscan.drift.drift import Segment
from regscan.errors import BadOutput
from regscan.job.job import Play
from regscan.job.rules import DirectionWords
from regscan.verdict.correct import propose_moves, write_corrections
from regscan.verdict.waiting import Waiting
from regscan.verdict.words import move_words
from verdict.tracks import drift_of, level, track

CYAN = ("cyan", "circumferential")


def moves(*tracks, job=JOB):
    return {(c.ink, c.axis): c for c in propose_moves(drift_of(*tracks), job)}


def cyan(settled, axis="circumferential", job=JOB, **more):
    return moves(track(settled=settled, axis=axis, **more), job=job)["cyan", axis]


# The contract: late (+) is cured by advancing, the drive side (+) by moving to the operator side.
@pytest.mark.parametrize(
    ("axis", "offset", "move", "steps", "words"),
    [
        ("circumferential", 0.12, -0.12, -12, "advance 0.12 mm"),
        ("circumferential", -0.12, 0.12, 12, "retard 0.12 mm"),
        ("lateral", 0.05, -0.05, -5, "move 0.05 mm toward operator side"),
        ("lateral", -0.05, 0.05, 5, "move 0.05 mm toward drive side"),
        ("circumferential", 0.124, -0.12, -12, "advance 0.12 mm"),
        ("circumferential", 0.126, -0.13, -13, "advance 0.13 mm"),
        ("lateral", 0.024, 0.0, 0, "leave"),
    ],
)
def test_a_move_is_minus_the_offset_with_its_word(axis, offset, move, steps, words):
    found = cyan(offset, axis)
    assert (found.move_mm, found.steps, found.words) == (move, steps, words)
    assert found.remaining_mm == pytest.approx(offset + move)
    # The level's doubt, and 3 % of the move.
    assert found.sd_mm == pytest.approx((0.002**2 + (0.03 * move) ** 2) ** 0.5)


@pytest.mark.parametrize(
    ("settled", "steps"),
    [
        (level(0.0249, sd_mm=0.001), 0),  # under a quarter of the tolerance of 0.1
        (level(0.0251, sd_mm=0.001), -3),
        (level(0.039, sd_mm=0.020), 0),  # under two sigma of the mean
        (level(0.041, sd_mm=0.020), -4),
        (level(0.041, sd_mm=None), -4),  # one frame without a doubt of its own
    ],
)
def test_dead_band(settled, steps):
    assert cyan(settled).steps == steps


def test_less_than_half_a_step_is_left_alone():
    coarse = make_job()
    station = coarse.press.stations[1]
    object.__setattr__(station.steps, "circumferential_mm", 0.10)
    try:
        assert cyan(0.049, job=coarse).words == "leave"
        assert cyan(0.051, job=coarse).steps == -1
    finally:
        object.__setattr__(station.steps, "circumferential_mm", 0.01)


def test_every_station_is_listed_in_print_order():
    job = make_job(invisible=("varnish",))
    found = propose_moves(drift_of(track(settled=0.05)), job)
    assert [(c.station, c.axis) for c in found] == [
        (number, axis) for number in range(1, 7) for axis in ("circumferential", "lateral")
    ]
    assert [c.ink for c in found[::2]] == [*INKS, "varnish"]


@pytest.mark.parametrize(
    ("tracks", "ink", "words"),
    [
        ([], "varnish", "not measured: the ink leaves no visible mark"),
        ([], "cyan", "not measured: the colour was not found"),
        (
            [track(frames_ok=30)],
            "cyan",
            "not measured: the colour did not settle at one speed: hold one, then wait"
            " 4.0 m of web",
        ),
        (
            [track(settled=level(0.1, doubtful=True))],
            "cyan",
            "not measured: only doubtful marks were seen",
        ),
    ],
)
def test_what_cannot_be_moved_says_why(tracks, ink, words):
    found = moves(*tracks, job=make_job(invisible=("varnish",)))[ink, "circumferential"]
    assert found.words == words
    assert found.move_mm is found.steps is found.remaining_mm is found.sd_mm is None


def test_the_press_s_own_words_stand_beside_the_trade_s():
    job = replace(JOB, direction_words=DirectionWords(advance="FWD", drive_side="IN"))
    assert cyan(0.12, job=job).words == "advance 0.12 mm (FWD)"
    assert cyan(-0.12, job=job).words == "retard 0.12 mm"  # the job has no word for it
    assert cyan(-0.12, "lateral", job=job).words == "move 0.12 mm toward drive side (IN)"
    assert cyan(0.0, job=job).words == "leave"


def test_a_run_that_ends_in_a_ramp_says_metres_and_seconds_to_wait():
    slowing = Segment(1, "slowing down", 0, 29, 0.0, 30.0, 0.0, 60.0, 150.0, 120.0)
    drift = replace(drift_of(track(frames_ok=30)), segments=(slowing,))
    (found,) = [c for c in propose_moves(drift, JOB) if (c.ink, c.axis) == CYAN]
    # Three spans of 1 m to the camera at the last station, at 2 m/s.
    assert found.words.endswith("hold one, then wait 3.0 m of web (2 s at 120 m/min)")


def test_what_is_still_changing_waits():
    wait = Waiting(2, "cyan", "circumferential", 0.15, 0.05, 0.01, 40.4, 20.2)
    tracks = drift_of(track(settled=0.15), track("yellow", settled=0.15))
    found = {
        c.ink: c
        for c in propose_moves(tracks, JOB, {("cyan", "circumferential"): wait})
        if c.axis == "circumferential"
    }
    assert (found["cyan"].move_mm, found["cyan"].steps) == (0.0, 0)
    assert (found["cyan"].remaining_mm, found["cyan"].sd_mm) == (0.05, 0.01)
    assert found["cyan"].words == (
        "wait about 40 m (about 20 s): still changing, now 0.150 mm late; likely to end "
        "0.050 mm late ±0.020 mm"
    )
    assert found["yellow"].steps == -15


def test_a_locked_station_is_left_and_said():
    job = make_job()
    object.__setattr__(job.press.stations[1], "locked", True)
    found = cyan(0.12, job=job)
    assert (found.steps, found.words) == (0, "leave (locked): 0.120 ±0.002 mm late stays")
    assert found.remaining_mm == 0.12


def test_play_is_taken_up_in_one_direction():
    job = make_job()
    object.__setattr__(job.press.stations[1], "play", Play(0.02, 0.02))
    assert cyan(0.12, job=job).words == (
        "advance 0.12 mm; finish with an advance; the first 0.02 mm are lost if it last moved"
        " the other way"
    )
    assert cyan(-0.12, job=job).words == (
        "retard 0.12 mm; retard 0.15 mm, then advance 0.03 mm: finish with an advance"
    )
    assert cyan(0.12, "lateral", job=job).words == (
        "move 0.12 mm toward operator side; move 0.15 mm toward operator side, then move 0.03 mm "
        "toward drive side: finish toward drive side"
    )


def test_one_frame_is_known_no_better_than_print_is():
    # 0.03 mm from one frame: twice 0.015 mm of print noise lies in the way.
    assert cyan(level(0.030, sd_mm=0.001, frames=1)).steps == 0
    found = cyan(level(0.30, sd_mm=0.001, frames=1))
    assert found.steps == -30
    assert found.sd_mm == pytest.approx((0.001**2 + 0.015**2 + 0.009**2) ** 0.5)


def test_the_reference_stays():
    found = moves(track("black", settled=0.0))["black", "circumferential"]
    assert (found.move_mm, found.steps, found.words) == (0.0, 0, "leave (reference)")


def test_two_cameras_are_weighed_by_their_doubt():
    found = moves(
        track(settled=level(0.100, sd_mm=0.001), camera="middle"),
        track(settled=level(0.102, sd_mm=0.002), camera="end"),
    )["cyan", "circumferential"]
    # Inverse variances 4 to 1: 0.1004; variance 1 / (1/0.001^2 + 1/0.002^2), and 3 % of 0.1.
    assert found.remaining_mm == pytest.approx(0.1004 - 0.10)
    assert found.sd_mm == pytest.approx((0.000894**2 + 0.003**2) ** 0.5, abs=1e-6)


def test_cameras_that_disagree_are_trusted_less():
    found = moves(
        track(settled=level(0.08, sd_mm=0.001), camera="middle"),
        track(settled=level(0.12, sd_mm=0.001), camera="end"),
    )["cyan", "circumferential"]
    assert found.steps == -10
    # Half their distance, not 0.0007; and 3 % of the move.
    assert found.sd_mm == pytest.approx((0.02**2 + 0.003**2) ** 0.5)


@pytest.mark.parametrize(
    ("axis", "said"), [("circumferential", "is skew"), ("lateral", "is a change of width")]
)
def test_the_edges_share_their_mean_and_skew_is_not_curable(axis, said):
    found = moves(
        track(settled=level(0.04, sd_mm=0.001), axis=axis, edge="operator"),
        track(settled=level(0.12, sd_mm=0.003), axis=axis, edge="drive"),
    )["cyan", axis]
    assert found.steps == -8  # (0.04 + 0.12) / 2, however well each is known
    assert f"0.080 mm between the web edges {said}, which no register move cures" in found.words


def test_edges_that_agree_are_not_spoken_of():
    found = moves(
        track(settled=level(0.100), edge="operator"), track(settled=level(0.104), edge="drive")
    )["cyan", "circumferential"]
    assert found.words == "advance 0.1 mm" or found.words == "advance 0.10 mm"


def test_what_another_speed_does_stays_and_is_said():
    slow = level(0.13, segment=3, speed_m_min=50.0)
    found = cyan(level(0.0), levels=(slow, level(0.0)))
    assert (found.steps, found.words) == (0, "leave; 0.130 ±0.002 mm late at 50 m/min stays")
    found = cyan(level(0.06), levels=(slow, level(0.06)))
    assert found.words == "advance 0.06 mm"  # which leaves 0.07 mm at 50 m/min, inside


def test_only_the_latest_hold_counts():
    found = moves(
        track(settled=level(0.20, segment=1), camera="middle"),
        track(settled=level(0.10, segment=5), camera="end"),
    )["cyan", "circumferential"]
    assert found.steps == -10


@pytest.mark.parametrize(
    ("move", "words"),
    [
        (0.0, "leave"),
        (-0.125, "advance 0.125 mm"),
        (0.005, "retard 0.005 mm"),
        (1.0, "retard 1.00 mm"),
    ],
)
def test_lengths_have_no_digits_that_are_not_there(move, words):
    assert move_words("circumferential", move) == words


def test_the_file_has_the_contracts_columns(tmp_path):
    path = tmp_path / "corrections.csv"
    write_corrections(path, propose_moves(drift_of(track(settled=0.12)), JOB))
    lines = path.read_text().splitlines()
    assert lines[0] == "station,ink,axis,move_mm,steps,words,remaining_mm,sd_mm"
    assert "2,cyan,circumferential,-0.120000,-12,advance 0.12 mm,0.000000,0.004118" in lines
    rows = list(csv.DictReader(lines))
    assert len(rows) == 10
    assert rows[0]["move_mm"] == rows[0]["steps"] == rows[0]["sd_mm"] == ""


def test_a_place_that_cannot_be_written(tmp_path):
    (tmp_path / "corrections.csv").mkdir()
    with pytest.raises(BadOutput):
        write_corrections(tmp_path / "corrections.csv", ())


def test_moves_bring_noisy_presses_in_and_never_the_wrong_way():
    for seed in range(25):
        rng = np.random.default_rng([seed, 3])
        places = rng.uniform(-0.3, 0.3, (len(INKS), 2))
        places[-1] = 0.0
        truth = {
            ink: (lambda t, p=place: (p[0] + 0 * t, p[1] + 0 * t))
            for ink, place in zip(INKS, places, strict=True)
        }
        drift = describe_run(make_table(Made(truth=truth, wander=0.5), seed), JOB)
        for found in propose_moves(drift, JOB):
            true = places[found.station - 1][0 if found.axis == "circumferential" else 1]
            assert found.move_mm * true <= 0.0
            assert abs(true + found.move_mm) < 0.03
            assert abs(true + found.move_mm - found.remaining_mm) < 5 * found.sd_mm + 1e-9
