"""A whole run: who is flagged, why, and what the notes admit."""

import numpy as np
import pytest

from drift.presses import INKS, JOB, TWO_CAMERAS, Made, make_job, make_table, rows_of, track_of
from drift.profiles import DOWN_UP, frame_table, noisy_log
from regscan.drift.describe import describe_run
from regscan.offsets.columns import OFFSET_COLUMNS
from regscan.offsets.table import table_of


def constant(late, side=0.0):
    return lambda t: (late + 0.0 * t, side + 0.0 * t)


def flagged(drift):
    return {(t.ink, t.axis) for t in drift.tracks if t.flagged}


@pytest.mark.parametrize("wander", [0.0, 0.7])
def test_noise_alone_flags_nobody(wander):
    # 60 ramp runs of four colours on two axes, noise a tenth of the tolerance, colours
    # up to half the tolerance off: 480 tracks, none of them may be called.
    for seed in range(30):
        places = np.random.default_rng([seed, 7]).uniform(-0.05, 0.05, (len(INKS), 2))
        places[-1] = 0.0
        truth = {ink: constant(*place) for ink, place in zip(INKS, places, strict=True)}
        drift = describe_run(make_table(Made(noise_mm=0.01, wander=wander, truth=truth), seed), JOB)
        assert flagged(drift) == set()


def test_the_one_that_misbehaves_is_flagged_and_no_other():
    def slow_is_late(t):
        return 0.0012 * (120.0 - DOWN_UP.speed(t)), 0.0 * t

    for seed in range(15):
        made = Made(truth={"magenta": slow_is_late}, pitch_m=2.0)
        drift = describe_run(make_table(made, seed), JOB, noisy_log(DOWN_UP, seed))
        assert flagged(drift) == {("magenta", "circumferential")}
        first = track_of(drift, "magenta").reasons[0]
        assert first.startswith("prints 0.1")
        assert "mm late at 20 m/min" in first
        assert "over the tolerance" in first


def test_an_excursion_in_the_ramps_alone_is_flagged_with_its_web():
    def late_while_slowing(t):
        ramps = (np.abs(t - 130) < 10) * (1 - np.abs(t - 130) / 10)
        return 0.0 * t, -0.2 * ramps

    for seed in range(15):
        made = Made(truth={"yellow": late_while_slowing}, pitch_m=1.0)
        drift = describe_run(make_table(made, seed), JOB)
        assert flagged(drift) == {("yellow", "lateral")}
        track = track_of(drift, "yellow", "lateral")
        (worst,) = [e for e in track.excursions if e.segment == 2]
        assert worst.worst_mm == pytest.approx(-0.2, abs=0.03)
        assert "m of web" in track.reasons[0]
        assert "toward the operator side" in track.reasons[0]
        # |offset| > 0.1 from 125 s to 135 s of a ramp of 5 m/min each second.
        truth = float(np.diff(DOWN_UP.web(np.array([125.0, 135.0])))[0])
        assert track.metres_outside == pytest.approx(truth, abs=2.0)


def test_a_step_between_holds_inside_tolerance_is_flagged_from_a_quarter_of_it_on():
    def moved(size):
        return lambda t: (size * (t > 270.0), 0.0 * t)

    for seed in range(10):
        large = describe_run(make_table(Made(truth={"cyan": moved(0.05)}, pitch_m=2.0), seed), JOB)
        assert flagged(large) == {("cyan", "circumferential")}
        (reason,) = track_of(large, "cyan").reasons
        assert "later" in reason
        assert "from the hold at 20 to the hold at 120 m/min" in reason or "120 to" in reason
        small = describe_run(make_table(Made(truth={"cyan": moved(0.015)}, pitch_m=2.0), seed), JOB)
        assert flagged(small) == set()


def test_significance_has_its_stated_rate():
    # Three of its own standard deviations: 0.27 % of differences for normal noise.
    called = total = 0
    for seed in range(60):
        drift = describe_run(make_table(Made(wander=0.5), seed), JOB)
        changes = [c for t in drift.tracks if t.ink != "black" for c in t.changes]
        called += sum(c.significant for c in changes)
        total += len(changes)
    assert total == 1440
    assert called / total < 0.012  # wandering noise and few frames thicken the tails


def test_last_hold_is_held_against_the_first():
    track = track_of(describe_run(make_table(Made(), 0), JOB), "cyan")
    assert [(c.from_segment, c.to_segment) for c in track.changes] == [(1, 3), (3, 5), (1, 5)]


def test_a_missing_colour_is_flagged_but_a_frame_or_two_are_not():
    table = make_table(Made(), 0)
    cyan = np.flatnonzero(table["ink"] == "cyan")

    def lose(share):
        lost = table.copy()
        gone = cyan[:: int(1 / share)]
        lost["status"][gone] = "missing"
        for column in ("circumferential_mm", "lateral_mm"):
            lost[column][gone] = np.nan
        return describe_run(lost, JOB)

    assert flagged(lose(0.2)) == {("cyan", "circumferential"), ("cyan", "lateral")}
    assert "was not found in 38 of 189 frames" in track_of(lose(0.2), "cyan").reasons
    assert flagged(lose(0.02)) == set()


def test_a_colour_without_any_row_is_there_all_the_same():
    table = make_table(Made(), 0)
    track = track_of(describe_run(table[table["ink"] != "yellow"], JOB), "yellow")
    assert track.flagged
    assert (track.frames_ok, track.frames_missing, track.settled) == (0, 189, None)


def test_the_reference_has_its_track_of_zeros():
    track = track_of(describe_run(make_table(Made(), 0), JOB), "black")
    assert (track.settled.mean_mm, track.settled.sd_mm, track.flagged) == (0.0, 0.0, False)


def test_an_invisible_ink_is_named_as_not_measurable():
    drift = describe_run(make_table(Made(), 0), make_job(invisible=("varnish",)))
    assert any("varnish (station 6)" in note and "not measurable" in note for note in drift.notes)
    assert {t.ink for t in drift.tracks} == set(INKS)


def notes_of(table, job=JOB, log=None):
    return " / ".join(describe_run(table, job, log).notes)


def test_what_reduces_the_answer_is_said():
    t = np.arange(20.0)
    assert "speed is not known" in notes_of(frame_table(t))
    assert "one speed only" in notes_of(frame_table(t, t, np.full(20, 60.0)))
    assert "web positions are not known" in notes_of(frame_table(t, None, np.full(20, 60.0)))
    half = np.where(t < 10, t, np.nan)
    assert "not known for 10 frames" in notes_of(frame_table(t, half, np.full(20, 60.0)))
    stranger = frame_table(t, t, np.full(20, 60.0), ink="puce", camera="far")
    assert "no such ink: puce" in notes_of(stranger)
    assert "no camera far" in notes_of(stranger)


def test_the_log_gives_what_the_table_lacks():
    t = DOWN_UP.frames_every_m(3.0)
    drift = describe_run(frame_table(t), JOB, noisy_log(DOWN_UP, 1, lost=0.0))
    assert drift.metres_total == pytest.approx(float(DOWN_UP.web(t[-1])[0]), rel=0.01)
    assert len(drift.segments) == 5


def test_a_log_is_no_use_to_frames_without_a_clock():
    assert "no time" in notes_of(frame_table([None] * 9), log=noisy_log(DOWN_UP, 1))


def two_cameras(middle_truth, end_truth, seed, **made):
    rows = rows_of(Made(camera="middle", truth=middle_truth, **made), seed)
    rows += rows_of(Made(camera="end", truth=end_truth, **made), seed + 1000)
    return table_of(rows, OFFSET_COLUMNS)


def test_cameras_that_agree_are_kept_apart_and_not_called():
    called = total = 0
    for seed in range(25):
        table = two_cameras({"cyan": constant(0.03)}, {"cyan": constant(0.03)}, seed)
        drift = describe_run(table, TWO_CAMERAS)
        assert len(drift.tracks) == 2 * 2 * len(INKS)
        called += sum(d.significant for d in drift.disagreements)
        total += len(drift.disagreements)
    assert total == 25 * 2 * (len(INKS) - 1)
    assert called == 0


def test_cameras_that_disagree_are_named():
    for seed in range(20):
        table = two_cameras({"cyan": constant(0.03)}, {"cyan": constant(0.01)}, seed)
        drift = describe_run(table, TWO_CAMERAS)
        (found,) = [d for d in drift.disagreements if d.significant]
        assert (found.ink, found.axis) == ("cyan", "circumferential")
        assert {found.camera, found.other_camera} == {"end", "middle"}
        late = -0.02 if found.other_camera == "end" else 0.02
        assert found.difference_mm == pytest.approx(late, abs=4 * found.sd_mm)


def test_rows_in_any_order_give_the_same_answer():
    table = make_table(Made(wander=0.5), 3)
    mixed = np.random.default_rng(0).permutation(table)
    assert describe_run(mixed, JOB) == describe_run(table, JOB)


def test_an_empty_table_is_no_crash():
    drift = describe_run(make_table(Made(), 0)[:0], JOB)
    assert (drift.segments, drift.tracks) == ((), ())
