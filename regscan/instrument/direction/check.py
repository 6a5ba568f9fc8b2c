"""Check: does the colour that was moved move so in the camera's picture, and if not, why."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import product
from statistics import median

from regscan.camera.camera import Camera, Direction
from regscan.camera.direction import DirectionCheck
from regscan.errors import Problem
from regscan.instrument.direction.seen import Shift
from regscan.instrument.direction.step import Step
from regscan.job.job import AXES

SIZE_OFF = 0.15  # of the step: presses move by their own play besides (common practice, no source)
SURE = 3.0  # standard deviations
CLEAR = 8.0  # a step must be this many standard deviations to tell a side
STILL = 0.3  # of the step: colours that were not moved move less than this
QUARTER = math.radians(20.0)  # directions closer than this are one direction

Vector = tuple[float, float]


def judge_step(
    ink: str, step: Step, shifts: Mapping[str, Shift], camera: Camera
) -> tuple[DirectionCheck | None, list[Problem]]:
    """The check to keep, or the problems that keep it from being one.

    shifts   how every colour moved against the reference colour, which is among them.
    """
    if ink not in shifts:
        what = "was not found well enough in both sets of frames"
        cure = "take sharp frames that show its mark and the reference's, before and after the move"
        return None, [Problem(ink, what, cure)]
    wanted = step.of("circumferential"), step.of("lateral")
    size = math.hypot(*wanted)
    still = _still(ink, shifts)
    moved = _less(shifts[ink], still)
    sds = shifts[ink].circumferential_sd_mm, shifts[ink].lateral_sd_mm
    if size < CLEAR * max(sds):
        what = f"the step of {size:g} mm is too small to tell: one sd of it is {max(sds):.4f} mm"
        return None, [Problem(ink, what, f"move it by {CLEAR * max(sds):.2f} mm or more")]
    others = {name: _less(shift, still) for name, shift in shifts.items() if name != ink}
    problems = list(_who(ink, moved, others, size))
    if not problems:
        problems = list(_how(ink, moved, wanted, sds, camera))
    if problems:
        return None, problems
    return _record(ink, step, moved, sds, camera), []


def _still(ink: str, shifts: Mapping[str, Shift]) -> Vector:
    """How far the colours that were not moved seem to have: the reference's own move, reversed."""
    rest = [shift for name, shift in shifts.items() if name != ink]
    if not rest:
        return 0.0, 0.0
    return median(s.circumferential_mm for s in rest), median(s.lateral_mm for s in rest)


def _less(shift: Shift, still: Vector) -> Vector:
    return shift.circumferential_mm - still[0], shift.lateral_mm - still[1]


def _who(ink: str, moved: Vector, others: Mapping[str, Vector], size: float) -> Iterator[Problem]:
    """Was it this colour that moved, and no other?"""
    astray = {name: by for name, by in others.items() if math.hypot(*by) > STILL * size}
    if math.hypot(*moved) < STILL * size:
        what = f"moved by only {math.hypot(*moved):.3f} mm, not by {size:g} mm"
        cure = "check that the right station was moved, and that the frames are in order"
        if astray:
            name = max(astray, key=lambda n: math.hypot(*astray[n]))
            what += f"; {name} moved by {math.hypot(*astray[name]):.3f} mm"
            cure = f"if {name} was moved, give --ink {name}; else check the job's ink colours"
        yield Problem(ink, what, cure)
    elif astray:
        named = ", ".join(f"{name} by {math.hypot(*by):.3f} mm" for name, by in astray.items())
        cure = "move one colour only, and take both sets of frames at the same speed"
        yield Problem(ink, f"was not the only colour to move: {named}", cure)


def _how(ink: str, moved: Vector, wanted: Vector, sds: Vector, camera: Camera) -> Iterator[Problem]:
    """Sign, side and size."""
    size, seen = math.hypot(*wanted), math.hypot(*moved)
    allowed = SIZE_OFF * size + SURE * max(sds)
    if math.dist(moved, wanted) <= allowed:
        return
    fits = [pair for pair in _pairs() if _angle(_as(camera, pair, moved), wanted) < QUARTER]
    now = camera.web_travel, camera.drive_side
    shown = f"it was to move {_words(wanted)} and is seen to move {_words(moved)}"
    if now in fits and abs(seen / size - 1.0) > SIZE_OFF:
        cure = (
            f"mm_per_px would have to be {camera.mm_per_px * size / seen:.5g} if the step was"
            " true; calibrate with a grid, and check the step (its unit, and play)"
        )
        yield Problem("mm_per_px", f"{shown}: wrong scale, or another step", cure)
    elif now in fits or (not fits and abs(seen / size - 1.0) <= SIZE_OFF):
        turn = math.degrees(_angle(moved, wanted))
        cure = "set rotation_deg, or calibrate with a grid that lies along the web's travel"
        yield Problem("rotation_deg", f"{shown}: turned by {turn:.0f} degrees", cure)
    elif fits:
        named = " or ".join(f"web_travel = {t!r} with drive_side = {s!r}" for t, s in fits)
        what = f"{shown}: the camera file has the picture {_kind(now, fits)}"
        place = "drive_side" if all(travel == now[0] for travel, _ in fits) else "web_travel"
        yield Problem(place, what, f"it fits {named}; correct the file and check again")
    else:
        cure = "check the step, the station, and that nothing else was changed between the frames"
        yield Problem(ink, f"{shown}: no setting of the camera explains that", cure)


def _pairs() -> Iterator[tuple[Direction, Direction]]:
    upright: tuple[Direction, ...] = ("up", "down")
    level: tuple[Direction, ...] = ("left", "right")
    yield from product(upright, level)
    yield from product(level, upright)


def _as(camera: Camera, pair: tuple[Direction, Direction], moved: Vector) -> Vector:
    """The move as the camera would show it with other words in its file."""
    other = replace(camera, web_travel=pair[0], drive_side=pair[1])
    return other.step_to_web(*camera.step_to_pixels(*moved))


def _angle(one: Vector, other: Vector) -> float:
    """Angle between two moves, 0 to pi."""
    turn = math.atan2(one[1], one[0]) - math.atan2(other[1], other[0])
    return abs((turn + math.pi) % (2.0 * math.pi) - math.pi)


def _kind(now: tuple[Direction, Direction], fits: list[tuple[Direction, Direction]]) -> str:
    upright = {"up", "down"}
    if all((now[0] in upright) != (travel in upright) for travel, _ in fits):
        return "turned by a quarter"
    alike = {(now[0] == travel) + (now[1] == side) for travel, side in fits}
    if alike == {1}:
        return "mirrored"
    return "upside down" if alike == {0} else "mirrored or upside down"


def _words(move: Vector) -> str:
    parts = []
    for axis, by in zip(AXES, move, strict=True):
        sides = ("late", "early") if axis == "circumferential" else ("to drive", "to operator")
        if abs(by) >= 0.0005:
            parts.append(f"{abs(by):.3f} mm {sides[by < 0.0]}")
    return " and ".join(parts) or "not at all"


def _record(ink: str, step: Step, moved: Vector, sds: Vector, camera: Camera) -> DirectionCheck:
    """The proof; an axis proven earlier stays proven."""
    check = camera.direction or DirectionCheck(ink)
    check = replace(check, ink=ink)
    if step.circumferential_mm is not None:
        check = replace(
            check,
            circumferential_moved_mm=step.circumferential_mm,
            circumferential_seen_mm=round(moved[0], 6),
            circumferential_sd_mm=round(sds[0], 6),
        )
    if step.lateral_mm is not None:
        check = replace(
            check,
            lateral_moved_mm=step.lateral_mm,
            lateral_seen_mm=round(moved[1], 6),
            lateral_sd_mm=round(sds[1], 6),
        )
    return check
