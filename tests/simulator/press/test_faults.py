"""Every named fault: the pattern over stations it should show, and its published sizes.

Numbers from the project's trade notes, section 3.4: [D] derived, [M] common practice.
"""

import numpy as np
import pytest

from regscan.simulator.press.effects import GroupTerm
from regscan.simulator.press.faults import FAULTS
from regscan.simulator.press.faults.parse import in_words, parse_fault
from regscan.simulator.press.machine import INFEED, OUTFEED
from regscan.simulator.press.passage import passage
from regscan.simulator.press.register import frames_at, register_of
from regscan.simulator.press.true_terms import true_terms
from regscan.simulator.speed import SpeedProfile, steady
from tests.simulator.press.presses import CHANNELS, late, press_of, printed

# A gentle and a sharp pair of ramps: 0.042 and 0.17 m/s^2.
RUN = SpeedProfile(
    (0.0, 60.0, 100.0, 160.0, 200.0, 260.0, 270.0, 330.0, 340.0, 400.0),
    (150.0, 150.0, 50.0, 50.0, 150.0, 150.0, 50.0, 50.0, 150.0, 150.0),
)
HOLDS = {"fast": 30.0, "slow": 130.0, "fast again": 230.0, "slow again": 300.0, "end": 380.0}
PRESS = press_of(marks_mm=tuple(1.0 * k for k in range(8)))


def of(words, machine=PRESS):
    return parse_fault(words).effects(machine)


def levels(words, machine=PRESS, channel="circumferential"):
    """Register, um, in the middle of each hold; stations x holds."""
    web = RUN.web_at(np.array(list(HOLDS.values())))
    return printed(machine, of(words, machine), web, RUN)[channel]


def everything():
    """One fault of each name, at station 4 where it wants a station."""
    for name, kind in FAULTS.items():
        wants = kind.__dataclass_fields__
        words = name
        if "stations" in wants:
            words += " stations=4,6"
        elif "station" in wants:
            words += " station=4"
        yield parse_fault(words)


ALL = list(everything())


@pytest.mark.parametrize("fault", ALL, ids=lambda fault: fault.name)
def test_a_fault_is_linear_in_its_sizes(fault):
    frames = frames_at(PRESS, np.arange(0.0, 250.0, 1.7))
    once = register_of(PRESS, RUN, fault.effects(PRESS), frames)
    thrice = register_of(PRESS, RUN, fault.scaled(3.0).effects(PRESS), frames)
    for channel in CHANNELS:
        name = f"{channel}_um"
        np.testing.assert_allclose(getattr(thrice, name), 3.0 * getattr(once, name), atol=1e-6)


@pytest.mark.parametrize("fault", ALL, ids=lambda fault: fault.name)
def test_a_fault_in_words_is_read_back(fault):
    assert parse_fault(in_words(fault)) == fault
    stronger = fault.scaled(1.375)
    assert parse_fault(in_words(stronger)) == stronger


@pytest.mark.parametrize("fault", ALL, ids=lambda fault: fault.name)
def test_the_reference_stays_at_zero(fault):
    register = register_of(PRESS, RUN, fault.effects(PRESS), frames_at(PRESS, [50.0, 120.3]))
    for channel in CHANNELS:
        assert np.all(getattr(register, f"{channel}_um")[0] == 0.0)


@pytest.mark.parametrize("fault", ALL, ids=lambda fault: fault.name)
def test_only_the_stations_of_the_pattern_move(fault):
    frames = frames_at(PRESS, np.arange(0.0, 600.0, 0.35))
    register = register_of(PRESS, RUN, fault.effects(PRESS), frames)
    moves = np.max(
        [np.abs(getattr(register, f"{channel}_um")).max(axis=1) for channel in CHANNELS], axis=0
    )
    moved = set((np.flatnonzero(moves > 0.5) + 1).tolist())
    pattern = fault.pattern(PRESS)
    if pattern == "one" and fault.name != "roller-run-out":
        assert moved == {4}
    elif pattern == "stair" or fault.name == "roller-run-out":
        assert moved <= {4, 5, 6, 7, 8}
        assert 4 in moved
    elif pattern == "common":
        assert moved == set()
    else:
        assert len(moved) >= 2
        assert 1 not in moved


def test_backlash_has_the_same_two_levels_at_both_rates():
    rows = levels("backlash station=4 size_mm=0.05")
    assert rows[3].tolist() == [0.0, -50.0, 0.0, -50.0, 0.0]


def test_backlash_under_drag_returns_when_the_slow_down_ends():
    biased = "backlash station=4 size_mm=0.05 bias_m_s2=0.02 dead_m_s2=0.001"
    assert levels(biased)[3].tolist() == [0.0] * 5
    falling = RUN.web_at(np.array([80.0, 265.0]))
    rows = printed(PRESS, of(biased), falling, RUN)["circumferential"]
    assert rows[3].tolist() == [-50.0, -50.0]


def test_heavy_drag_never_lets_the_flank_change():
    # [D] plate cylinder inertia is small against doctor blade and web pull: 0.08 N m against
    # 0.5 N m for 0.33 m/s^2, so 2 m/s^2 of bias stands for the usual press.
    words = "backlash station=4 size_mm=0.05 bias_m_s2=2.0"
    web = RUN.web_at(np.arange(0.0, 400.0, 0.5))
    assert np.abs(printed(PRESS, of(words), web, RUN)["circumferential"]).max() == 0.0


def test_a_shared_train_makes_backlash_a_stair():
    rows = levels("backlash station=4 size_mm=0.05 shared=yes")
    assert rows[:, 1].tolist() == [0, 0, 0, -50, -50, -50, -50, -50]


def test_wind_up_runs_smoothly_over_the_stations_and_falls_away_from_the_motor():
    rows = levels("wind-up size_mm=0.1 gain_mm_per_m_s2=0 motor=unwind")[:, 0]
    steps = np.diff(rows)
    assert rows[-1] == pytest.approx(100.0)
    assert np.all(steps > 0.0)
    assert np.all(np.diff(steps) < 0.0)


def test_servo_delay_is_speed_times_time():
    # [D] 10 us: 25 um at 150, 10 um at 60 m/min.
    assert levels("servo-delay station=4 delay_us=10")[3, 0] == pytest.approx(25.0)
    slow = printed(PRESS, of("servo-delay station=4 delay_us=10"), [50.0], steady(60.0, 100.0))
    assert slow["circumferential"][3, 0] == pytest.approx(10.0)


def test_trigger_latency_moves_the_group_and_no_register():
    # [D] 100 us: 250 um at 150 m/min.
    (group,) = of("trigger-latency latency_us=100")
    assert isinstance(group, GroupTerm)
    assert group.signal.at(passage(RUN, np.array([10.0])))[0] == pytest.approx(-250.0)
    register = register_of(PRESS, RUN, [group], frames_at(PRESS, [10.0, 200.0]))
    assert np.abs(register.circumferential_um).max() == 0.0


def test_flash_timing_goes_with_the_speed_at_the_frame():
    # In a ramp the frame is slower than the moment its oldest mark was printed.
    at = RUN.web_at(np.array([80.0]))
    frames = frames_at(PRESS, at)
    flashed = register_of(PRESS, RUN, of("flash-timing stations=2 delay_us=60"), frames)
    speed = float(RUN.speed_at(np.array([80.0]))[0])
    assert flashed.circumferential_um[1, 0] == pytest.approx(-60.0 * speed / 60.0)
    lagging = register_of(PRESS, RUN, of("servo-delay station=2 delay_us=60"), frames)
    assert lagging.circumferential_um[1, 0] > 60.0 * speed / 60.0 + 2.0


def test_rolling_shutter_grows_with_the_distance_of_marks():
    rows = levels("rolling-shutter us_per_mm=20")[:, 0]
    assert rows == pytest.approx(-np.arange(8) * 20.0 * 2.5)


def test_tension_steps_last_only_where_the_infeed_meters():
    words = "tension-step at_m=40 size_ppm=100"
    assert np.abs(levels(words)).max() < 0.01
    assert levels(words, press_of(metering=INFEED))[:, -1] == pytest.approx(np.arange(8) * 100.0)
    assert np.abs(levels(words, press_of(metering=OUTFEED))).max() < 0.01


def test_inertia_gives_blips_at_the_corners_of_ramps_with_changing_sign():
    times = np.arange(59.0, 205.0, 0.02)
    second = late(PRESS, of("unwind-inertia ppm_per_m_s2=1500"), RUN.web_at(times), RUN)[1]
    # Slowing down the web loses tension: late; gaining speed: early. 0.0417 m/s^2 are 62.5 ppm,
    # and a step of that is a blip of 0.368 of it (see the worked checks).
    slower, faster = second[times < 100.0], second[(times > 158.0) & (times < 200.0)]
    assert slower.max() == pytest.approx(0.368 * 62.5, rel=0.02)
    assert faster.min() == pytest.approx(-0.368 * 62.5, rel=0.02)
    assert abs(second[times.searchsorted(95.0)]) < 0.1  # nothing is left in a long even ramp


def test_idler_drag_in_every_span_is_a_fan_with_speed():
    rows = levels("idler-drag ppm_per_m_min=0.4 share=0.5")
    # Each span: -(strain over the idler) x (length before it) = -0.4 v 0.5 m.
    assert rows[:, 0] == pytest.approx(-np.arange(8) * 0.4 * 150.0 * 0.5)
    assert rows[:, 1] == pytest.approx(-np.arange(8) * 0.4 * 50.0 * 0.5)


def test_air_sets_in_above_its_onset():
    rows = levels("air-film onset_m_min=100 ppm_per_m_min=0.5")
    assert rows[:, 1] == pytest.approx(0.0)
    assert rows[:, 0] == pytest.approx(-np.arange(8) * 25.0, abs=0.01)


def test_warm_up_takes_its_time_and_does_not_ask_for_speed():
    rows = levels("lamp-warm-up station=4 size_mm=0.1 tau_min=2")
    times = np.array(list(HOLDS.values()))
    expected = 100.0 * (1.0 - np.exp(-times / 120.0))
    assert rows[3] == pytest.approx(expected, abs=0.6)
    assert rows[6] == pytest.approx(expected, abs=2.5)


def test_a_lamp_of_constant_power_heats_a_slow_web_more():
    rows = levels("lamp-warm-up station=4 size_mm=0.1 tau_min=2 fast_share=1 dwell=1")
    assert rows[3, :2] == pytest.approx([100.0, 300.0], rel=1e-3)


def test_uneven_heat_over_the_web_is_skew():
    # [D] 5 K x 17 ppm/K x 0.5 m: 42 um between the edges, on PET; stair-like.
    words = "lamp-warm-up station=4 size_mm=0.0425 tau_min=0.01 skew_share=1"
    assert levels(words, channel="skew")[:, 0] == pytest.approx([0, 0, 0, *[42.5] * 5], abs=0.01)


def test_warm_drums():
    # [M] steel 5 K = 58 ppm: 58 um per metre of span.
    one = levels("chill-drum station=4 rise_k=5 tau_min=0.1")[:, -1]
    assert one == pytest.approx([0, 0, 0, *[57.5] * 5], abs=0.1)
    fan = levels("chill-drum rise_k=5 tau_min=0.1")[:, -1]
    assert fan == pytest.approx(np.arange(8) * 57.5, abs=0.2)


def test_film_that_shrinks():
    # [D] 0.1 % at 0.3 m: 300 um late; across, what was printed before lies inward.
    words = "film-shrink station=4 size_ppm=1000 share=0.3 cross_ratio=0.5 dwell=0"
    assert levels(words)[:, 0] == pytest.approx([0, 0, 0, *[300.0] * 5], abs=0.01)
    # 0.05 % of 330 mm = 165 um, and Poisson's part of the risen tension: 0.3 x 0.1 % x 330 mm.
    width = levels(words, channel="width")[:, 0]
    assert width == pytest.approx([0, 0, 0, *[165.0 + 99.0] * 5], abs=0.1)


def test_drying_paper_moves_more_across_than_along():
    words = "moisture size_ppm=100 cross_ratio=2.5 tau_min=1"
    along, across = levels(words)[7, -1], levels(words, channel="width")[7, -1]
    assert along == pytest.approx(7 * 0.5 * 100.0, rel=0.01)
    assert across > 2.0 * along * 0.33 / 0.5


def test_plates():
    slip = levels("plate-slip station=4 at_m=200 size_mm=0.08 skew_mm=0.05")
    # From 150 m at the first ramp's start to 216.7 m at its end.
    assert slip[3].tolist() == [0.0, 80.0, 80.0, 80.0, 80.0]
    creep = levels("plate-creep station=4 mm_per_km=0.1 from_m=100")
    web = RUN.web_at(np.array(list(HOLDS.values())))
    assert creep[3] == pytest.approx(np.maximum(0.1 * (web - 100.0), 0.0))
    cocked = levels("cocked-cylinder station=4 skew_mm=0.1", channel="skew")
    assert cocked[3].tolist() == [100.0] * 5


def test_a_turned_plate_is_a_rotation_and_a_cocked_cylinder_a_shear():
    # [D] both skew by psi W; only the plate's print runs sideways round the repeat, psi s.
    machine = press_of()
    frames = frames_at(machine, 100 * machine.repeat_m + np.array([0.0, 0.2]))
    turned = register_of(machine, RUN, of("plate-mounting station=4 turn_mrad=0.3"), frames)
    cocked = register_of(machine, RUN, of("cocked-cylinder station=4 skew_mm=0.099"), frames)
    assert turned.skew_um[3] == pytest.approx(cocked.skew_um[3])
    assert np.diff(turned.lateral_um[3]) == pytest.approx([-60.0])
    assert np.diff(cocked.lateral_um[3]) == pytest.approx([0.0])
    operator, drive = turned.at_edge("operator"), turned.at_edge("drive")
    assert drive[0][3, 0] - operator[0][3, 0] == pytest.approx(0.3 * 330.0)


def test_helical_gears_tie_both_axes():
    # [D] dx = dy tan(beta).
    words = "side-lay-drift station=4 size_mm=0.09 helix_deg=20 tau_min=1"
    ratio = levels(words)[3] / levels(words, channel="lateral")[3]
    assert ratio == pytest.approx(np.tan(np.radians(20.0)))


def test_hunting_is_constant_in_seconds():
    machine = press_of()
    effects = of("guide-hunting size_mm=0.3 period_s=5")
    for speed in (150.0, 60.0):
        profile = steady(speed, 300.0)
        times = np.arange(100.0, 200.0, 0.05)
        side = printed(machine, effects, profile.web_at(times), profile)["lateral"][1]
        turns = np.flatnonzero((side[:-1] < 0.0) & (side[1:] >= 0.0))
        assert np.diff(times[turns]) == pytest.approx(5.0, abs=0.11)


def test_a_splice_hits_each_station_when_it_comes_by():
    rows = late(PRESS, of("splice at_m=50 size_ppm=0"), np.arange(40.0, 70.0, 0.05), RUN)
    first = 40.0 + 0.05 * (np.abs(rows[1:]) > 1.0).argmax(axis=1)
    # The first colour's own hit, at 50 m, reaches the others' register with its print.
    assert first == pytest.approx(50.0 + np.arange(1, 8), abs=0.06)
    assert np.abs(rows[:, -1]).max() < 1.0


def test_terms_say_what_the_offsets_do():
    # Lamps and drums: settled size; speed: per m/min; two levels: their distance.
    for words, kind, size in (
        ("backlash station=4 size_mm=0.05", "two levels", -0.05),
        ("servo-delay station=4 delay_us=30", "speed", 0.0005),
        ("lamp-warm-up station=4 size_mm=0.1", "warm-up", 0.1),
        ("gear-run-out station=4 size_mm=0.02", "period in metres", 0.02),
        ("plate-slip station=4 size_mm=0.08", "step", 0.08),
        ("chill-drum station=4 rise_k=10", "warm-up", 0.115),
    ):
        terms = true_terms(PRESS, of(words))
        (term,) = [t for t in terms if (t.station, t.channel) == (4, "circumferential")]
        assert term.kind == kind
        assert term.size_mm == pytest.approx(size, rel=1e-3)


def test_a_reference_at_fault_moves_all_others_the_other_way():
    machine = press_of(reference=3)
    terms = true_terms(machine, of("backlash station=4 size_mm=0.05", machine))
    assert {t.station: round(t.size_mm, 9) for t in terms} == dict.fromkeys(
        [1, 2, 3, 5, 6, 7, 8], 0.05
    )


def test_transients_are_told_as_such():
    terms = true_terms(PRESS, of("tension-step at_m=40 size_ppm=100"))
    assert {t.station for t in terms} == set(range(2, 9))
    assert {t.kind for t in terms} == {"step transient"}
    assert terms[0].parameters["size"] == 100.0
    lasting = true_terms(press_of(metering=INFEED), of("tension-step at_m=40 size_ppm=100"))
    assert [t.size_mm for t in lasting] == pytest.approx(0.1 * np.arange(1, 8))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("backlsh station=2", "did you mean 'backlash'"),
        ("backlash", "needs station"),
        ("backlash station=2 size=0.05", "did you mean 'size_mm'"),
        ("backlash station=two", "write a number"),
        ("backlash station=2 size_mm=nan", "write a number"),
        ("backlash station=2 shared=maybe", "yes, no"),
        ("gear-run-out station=2 wavelength_mm=0", "above 0"),
        ("gear-run-out station=2 where=roof", "plate, drum"),
        ("", "there is no fault"),
    ],
)
def test_words_that_say_no_fault_are_refused(words, said):
    with pytest.raises(ValueError, match=said):
        parse_fault(words)


@pytest.mark.parametrize(
    "words", ["backlash station=9", "backlash station=0", "flash-timing stations=2,12"]
)
def test_a_station_that_is_not_there_is_refused(words):
    with pytest.raises(ValueError, match="not among the 8"):
        parse_fault(words).check(PRESS)


def test_all_stations_may_be_meant_where_that_makes_sense():
    parse_fault("chill-drum").check(PRESS)
    parse_fault("chill-drum station=3").check(PRESS)
