"""Two ways to set a press up: regscan's advice, and the naive rule."""

from dataclasses import dataclass, replace

import numpy as np

from bench.setting_up.press import AXES, PITCH_M, SPEED_M_MIN, STEP_MM, TruePress
from regscan.drift.describe import describe_run
from regscan.job.job import CameraPost, Colour, Ink, Job, Play, Press, Station, Steps, Tolerance
from regscan.job.layout import Disc, MarkDesign
from regscan.offsets.columns import OFFSET_COLUMNS
from regscan.offsets.table import table_of
from regscan.verdict.actuator import Actuator
from regscan.verdict.learn import learn, lessons_of
from regscan.verdict.movelog import Made
from regscan.verdict.plans import Known, make_plans
from regscan.verdict.seen import between_runs
from regscan.verdict.settling import settle
from regscan.verdict.words import overshoot_steps, turns_back

LIMIT_MM = 0.05
STATED_PLAY_MM = 0.03
FRAMES = (5, 20, 20, 20)  # frames for the first round, and for each later one
LONGEST_M = 600.0


@dataclass
class Outcome:
    """rounds: looks at frames that led to moves. inside_m: web from which on everything
    printed inside the limit; None when that was never reached. after_two: whether it was
    inside for good after two rounds. wrong: moves that took a colour further away."""

    inside_m: float | None
    after_two: bool
    rounds: int
    commands: int
    wrong: int


def job_of(press: TruePress) -> Job:
    """The press as its job file has it: stated steps and play, not the true ones."""
    grey = Colour("lab", (50.0, 0.0, 0.0))
    inks = [f"ink {k + 1}" for k in range(press.stations)]
    stations = tuple(
        Station(k + 1, ink, float(press.spans_m[k]), Steps(STEP_MM, STEP_MM),
                Play(STATED_PLAY_MM, STATED_PLAY_MM), grips=press.grips)
        for k, ink in enumerate(inks)
    )  # fmt: skip
    camera = CameraPost("end", press.stations, press.camera_m)
    return Job(
        "Honey jar", Press("Press 2", 304.8, 330.0, stations, (camera,)),
        tuple(Ink(ink, grey) for ink in inks), grey, inks[press.reference],
        tuple(MarkDesign(ink, Disc(0.6), 0.0, 1.2 * k) for k, ink in enumerate(inks)),
        Tolerance(LIMIT_MM, LIMIT_MM, "set-up"),
    )  # fmt: skip


def table_from(web: np.ndarray, offsets: np.ndarray, job: Job) -> np.ndarray:
    """Frames as the table that regscan measures into."""
    rows = [
        {"frame": f"{m:09.3f}.png", "time_s": m / SPEED_M_MIN * 60, "web_m": m,
         "speed_m_min": SPEED_M_MIN, "station": s.number, "ink": s.ink, "status": "ok",
         "circumferential_mm": offsets[k, s.number - 1, 0],
         "lateral_mm": offsets[k, s.number - 1, 1],
         "circumferential_sd_mm": 0.001, "lateral_sd_mm": 0.001}
        for k, m in enumerate(web) for s in job.press.stations
    ]  # fmt: skip
    return table_of(rows, OFFSET_COLUMNS)


def all_inside(press: TruePress) -> bool:
    """Whether every colour prints inside the limit once everything has settled."""
    return all(np.abs(press.final(axis)).max() <= LIMIT_MM for axis in range(2))


def with_advice(press: TruePress, metres: float) -> Outcome:
    """regscan's plan of fewest moves; waits as it says; learns the press as it goes."""
    job, learned, before = job_of(press), {}, None
    lessons, made, wrong, rounds, after_two = [], [], 0, 0, False
    inside_m = None
    for look, count in enumerate(FRAMES):
        table = table_from(*press.frames(count), job)
        settled = settle(table, describe_run(table, job), job)
        if before is not None:
            lessons += lessons_of(between_runs(made, before, settled.drift, job), str(look))
            learned = learn(lessons, job)
        before = settled.drift
        fewest, _ = make_plans(settled.drift, job, Known(learned, settled.waiting))
        if fewest.moves:
            rounds += 1
            made, bad = follow(press, fewest, job, learned, metres)
            wrong += bad
            inside_m = press.web_m if all_inside(press) else None
            press.web_m += fewest.wait_m
        if look == 1:
            after_two = all_inside(press)
        if not fewest.moves:
            break
    return Outcome(inside_m, after_two, rounds, press.commands, wrong)


def follow(press, plan, job, learned, metres):
    """Make a plan's moves. Returns what was noted, and how many went the wrong way."""
    noted, wrong = [], 0
    start = [press.final(axis) for axis in range(2)]
    aims = np.zeros(2)
    for move in plan.moves:
        station, axis = move.station - 1, AXES.index(move.axis)
        known = learned.get((move.station, move.axis))
        actuator = known or _stated()
        beyond = overshoot_steps(actuator)
        steps = [move.steps]
        if turns_back(move.axis, move.steps, actuator):
            sign = 1 if move.steps > 0 else -1
            steps = [move.steps + sign * beyond, -sign * beyond]
        moved = sum(press.command(station, axis, one, metres) for one in steps)
        noted += [Made(1, move.station, move.ink, move.axis, one * STEP_MM, one) for one in steps]
        if station == press.reference:
            aims[axis] = moved
            touched = {m.station - 1 for m in plan.moves if m.axis == move.axis}
            left = [k for k in range(press.stations) if k not in touched]
            errors = start[axis][left]
            wrong += bool(len(left)) and moved * (errors.max() + errors.min()) < -1e-9
        else:
            error = start[axis][station] - aims[axis]
            wrong += moved * error > 1e-9
    return noted, int(wrong)


def _stated():
    return Actuator(STEP_MM, STATED_PLAY_MM)


def naive(press: TruePress, metres: float, every_m: float = PITCH_M) -> Outcome:
    """Every colour to the reference, each time from the newest frame.

    every_m   how much web passes at least from one look to the next.
    """
    inside_m, rounds, wrong, after_two = None, 0, 0, False
    while press.web_m < LONGEST_M:
        start = press.web_m
        _, offsets = press.frames(1)
        rounds += 1
        for axis in range(2):
            for station in range(press.stations):
                steps = -round(offsets[0, station, axis] / STEP_MM)
                if station == press.reference or not steps:
                    continue
                error = press.final(axis)[station]
                wrong += press.command(station, axis, steps, metres) * error > 0.0
        if rounds == 2:
            after_two = all_inside(press)
        if not all_inside(press):
            inside_m = None
        elif inside_m is None:
            inside_m = press.web_m
        if inside_m is not None and press.web_m - inside_m > 100.0:
            break
        press.web_m = max(press.web_m, start + every_m)
    return Outcome(inside_m, after_two, rounds, press.commands, wrong)


def fresh(press: TruePress) -> TruePress:
    """The same press, not yet touched."""
    return replace(press, web_m=0.0, commands=0, events=([], []))
