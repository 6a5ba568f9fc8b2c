"""Sign, side, size and ink of a known step, from drawn frames and every way to mount a camera."""

from dataclasses import replace

import pytest

from regscan.camera.camera import Camera
from regscan.camera.direction import DirectionCheck
from regscan.instrument.direction.check import judge_step
from regscan.instrument.direction.seen import Shift, means_of, shifts_of
from regscan.instrument.direction.step import step_of
from regscan.recording.frame import Frame
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Look, Sensor, Shot
from tests.camera.test_camera import PAIR_NAMES
from tests.marks.conftest import six_colours

JOB = six_colours()
NOISY = Look(sensor=Sensor(noise_grey=2.0))
BOTH = step_of("advance 0.10, drive 0.06")


def frames(camera, offsets, count=2, seed=0) -> list[Frame]:
    return [
        draw_frame(JOB, camera, offsets, NOISY, Shot(480, 640, seed=seed + k))[0]
        for k in range(count)
    ]


def shifts(drawn_with, read_with, by, before=None):
    was, now = frames(drawn_with, before or {}), frames(drawn_with, by, seed=50)
    return shifts_of(means_of(was, JOB, read_with), means_of(now, JOB, read_with))


@pytest.mark.parametrize("pair", PAIR_NAMES)
def test_a_right_file_is_proven_however_the_camera_is_mounted(pair):
    camera = Camera(0.012, 0.013, *pair, rotation_deg=1.0)
    start = {"cyan": (0.2, -0.1), "magenta": (-0.1, 0.1)}
    end = {**start, "cyan": (0.1, -0.04)}
    check, problems = judge_step("cyan", BOTH, shifts(camera, camera, end, start), camera)
    assert problems == []
    assert check.circumferential_seen_mm == pytest.approx(-0.1, abs=0.001)
    assert check.lateral_seen_mm == pytest.approx(0.06, abs=0.001)
    assert check.unproven == ()


@pytest.mark.parametrize("wrong", [pair for pair in PAIR_NAMES if pair != ("up", "right")])
def test_a_wrong_file_is_told_what_would_be_right(wrong):
    camera = Camera(0.012, 0.012)
    read_with = replace(camera, web_travel=wrong[0], drive_side=wrong[1])
    # What the wrong file makes of the true move, by the two cameras' own matrices.
    moved = read_with.step_to_web(*camera.step_to_pixels(-0.1, 0.06))
    seen = {"cyan": Shift(*moved, 0.001, 0.001), "black": Shift(0.0, 0.0, 0.0, 0.0)}
    check, (problem,) = judge_step("cyan", BOTH, seen, read_with)
    assert check is None
    assert "web_travel = 'up' with drive_side = 'right'" in problem.cure
    upright = wrong[0] in ("up", "down")
    kind = (
        "turned by a quarter"
        if not upright
        else "upside down"
        if wrong == ("down", "left")
        else "mirrored"
    )
    assert kind in problem.what


def test_one_axis_leaves_the_other_unproven_and_keeps_what_was_proven():
    camera = Camera(
        0.012, 0.012, direction=DirectionCheck("black", None, None, None, 0.1, 0.1, 0.001)
    )
    seen = {"cyan": Shift(-0.1, 0.001, 0.001, 0.001), "black": Shift(0.0, 0.0, 0.0, 0.0)}
    check, _ = judge_step("cyan", step_of("advance 0.1"), seen, camera)
    assert (check.ink, check.circumferential_moved_mm, check.lateral_moved_mm) == (
        "cyan",
        -0.1,
        0.1,
    )
    check, _ = judge_step("cyan", step_of("advance 0.1"), seen, Camera(0.012, 0.012))
    assert check.unproven == ("lateral",)


def judged(words, ink="cyan", **inks):
    still = Shift(0.0, 0.0, 0.001, 0.001)
    seen = {"black": still, "magenta": still, "yellow": still}
    seen |= {name: Shift(*by, 0.001, 0.001) for name, by in inks.items()}
    return judge_step(ink, step_of(words), seen, Camera(0.012, 0.012))


@pytest.mark.parametrize(
    ("words", "inks", "place", "said"),
    [
        ("advance 0.1", {"cyan": (-0.07, 0.0)}, "mm_per_px", "wrong scale, or another step"),
        ("advance 0.1", {"cyan": (-0.13, 0.0)}, "mm_per_px", "0.0092308"),
        ("advance 0.1", {"cyan": (-0.094, 0.034)}, "rotation_deg", "turned by 20 degrees"),
        ("advance 0.1", {"cyan": (-0.077, 0.064)}, "rotation_deg", "turned by 40 degrees"),
        ("advance 0.1", {"cyan": (0.1, 0.0)}, "web_travel", "mirrored or upside down"),
        ("drive 0.1", {"cyan": (0.0, -0.1)}, "web_travel", "mirrored or upside down"),
        ("advance 0.1", {"cyan": (0.0, 0.0)}, "cyan", "moved by only 0.000 mm"),
        ("advance 0.1", {"cyan": (0.0, 0.0), "magenta": (-0.1, 0.0)}, "cyan", "--ink magenta"),
        ("advance 0.1", {"cyan": (-0.1, 0.0), "magenta": (-0.1, 0.0)}, "cyan", "not the only"),
        ("advance 0.1", {"green": (-0.1, 0.0)}, "cyan", "was not found well enough"),
        ("advance 0.1", {"cyan": (-0.3, 0.2)}, "cyan", "no setting of the camera explains"),
        ("advance 0.005", {"cyan": (-0.005, 0.0)}, "cyan", "too small to tell"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_named(words, inks, place, said):
    check, problems = judged(words, **inks)
    assert check is None
    (problem,) = problems
    assert problem.place == place
    assert said in str(problem)
    assert problem.cure


def test_the_reference_itself_may_be_moved():
    """Then every other colour seems to move the other way."""
    seen = {ink: Shift(0.1, 0.0, 0.001, 0.001) for ink in ("cyan", "magenta", "yellow")}
    seen["black"] = Shift(0.0, 0.0, 0.0, 0.0)
    check, problems = judge_step("black", step_of("advance 0.1"), seen, Camera(0.012, 0.012))
    assert problems == []
    assert check.circumferential_seen_mm == pytest.approx(-0.1)
    _, (problem,) = judge_step("cyan", step_of("advance 0.1"), seen, Camera(0.012, 0.012))
    assert "--ink black" in problem.cure
