"""The runs `regscan simulate` knows by name: a ramp, a first print, a calm run."""

import math
from collections.abc import Callable

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.job import AXES, Axis, Job, Station
from regscan.simulator.chance import stream
from regscan.simulator.draw import true_places
from regscan.simulator.look import Lens, Look, Print, Sensor, Shot
from regscan.simulator.motion import Injected, Motion
from regscan.simulator.scenario import Scenario, Wish, frame_seed, placed, shots_of
from regscan.simulator.shapes import Outline
from regscan.simulator.speed import SpeedProfile, ramps, steady
from regscan.simulator.terms import BySpeed, Constant, Jitter, Step
from regscan.simulator.truth import FrameTruth, TrueOffset
from regscan.units import m_per_s

FAST_M_MIN, SLOW_M_MIN = 150.0, 50.0
RAMP_S = 25.0
JITTER_MM = 0.004
LARGEST_FIRST_MM = 0.8


def press_look(noise_grey: float) -> Look:
    """Frames as a decent press camera takes them: a little of everything, nothing severe."""
    return Look(
        print=Print(roughness_um=2.5, roughness_length_um=35.0, gain_um=4.0, rim=0.12),
        lens=Lens(blur_px=1.0, strobe_us=3.0, slope_grey=8.0, vignette_grey=6.0),
        sensor=Sensor(noise_grey=noise_grey),
        grain_grey=0.5,
    )


def ramp(job: Job, camera: Camera, wish: Wish) -> Scenario:
    """Twice 150 -> 50 -> 150 m/min with holds. One station prints late at low speed, in
    proportion to speed; one lies toward the drive side through the second slow hold. Faults
    that are wished for take their place."""
    hold_s = _hold_s(wish.frames, job.press.repeat_mm)
    speed = ramps(FAST_M_MIN, SLOW_M_MIN, hold_s=hold_s, ramp_s=RAMP_S, times=2)
    own = () if wish.faults else _faults(job, speed, hold_s)
    faulty = {(injected.station, injected.axis) for injected in own}
    injected = (*own, *_settings(job, wish.seed, faulty))
    motion = Motion(speed, injected, wish.seed, wish.faults, wish.metering)
    return _run("ramp", job, camera, wish, motion)


def calm(job: Job, camera: Camera, wish: Wish) -> Scenario:
    """A steady run at full speed with every station well inside its tolerance."""
    speed = steady(FAST_M_MIN, 3.0 * (wish.frames + 1))
    motion = Motion(speed, _settings(job, wish.seed), wish.seed, wish.faults, wish.metering)
    return _run("calm", job, camera, wish, motion)


def _run(name: str, job: Job, camera: Camera, wish: Wish, motion: Motion) -> Scenario:
    shots, offsets = shots_of(job, camera, motion, wish)
    look = press_look(wish.noise_grey)
    return Scenario(name, job, camera, look, motion, shots, offsets, wish, agree_mm=0.003)


def first_print(job: Job, camera: Camera, wish: Wish) -> Scenario:
    """Still frames of one first print: every colour up to 0.8 mm off, marks still apart."""
    post = job.press.cameras[0] if job.press.cameras else None
    name = post.name if post and len(job.press.cameras) > 1 else ""
    offsets = _apart(job, camera, wish.seed, name)
    shots = [
        Shot(name=f"{k + 1:04d}.{wish.image}", index=k, seed=frame_seed(wish.seed, k), camera=name)
        for k in range(wish.frames)
    ]
    look = press_look(wish.noise_grey)
    return Scenario(
        "first-print",
        job,
        camera,
        look,
        Motion(steady(20.0, 60.0), (), wish.seed),
        tuple(placed(shot, job, camera) for shot in shots),
        tuple(offsets for _ in shots),
        wish,
        agree_mm=0.005,
        clock=False,
    )


SCENARIOS: dict[str, Callable[[Job, Camera, Wish], Scenario]] = {
    "ramp": ramp,
    "first-print": first_print,
    "calm": calm,
}
USUAL_FRAMES = {"ramp": 132, "first-print": 1, "calm": 30}


def _others(job: Job) -> list[Station]:
    """Stations whose ink can be seen, the reference apart."""
    stations = job.press.stations
    return [s for s in stations if s.ink != job.reference and job.ink(s.ink).measurable]


def _hold_s(frames: int, repeat_mm: float) -> float:
    """A minute, or as long as it takes that every frame has a repeat of its own."""
    web_m = 1.05 * frames * repeat_mm / 1000.0
    ramps_m = 4.0 * RAMP_S * m_per_s((FAST_M_MIN + SLOW_M_MIN) / 2.0)
    return max(60.0, (web_m - ramps_m) / m_per_s(3.0 * FAST_M_MIN + 2.0 * SLOW_M_MIN))


def _faults(job: Job, speed: SpeedProfile, hold_s: float) -> tuple[Injected, ...]:
    """The two stations of a ramp that misbehave; one with both faults where there is but one."""
    others = _others(job)
    if not others:
        return ()
    late, aside = others[max(len(others) - 2, 0)], others[len(others) // 2]
    limit = job.tolerance_for(late.ink).circumferential_mm
    slope = -1.3 * limit / (FAST_M_MIN - SLOW_M_MIN)
    shift = 1.35 * job.tolerance_for(aside.ink).lateral_mm
    # From 12 s into the second slow hold until the ramp after it is nearly over.
    begins_s = 3.0 * (hold_s + RAMP_S)
    times = np.array([begins_s + 12.0, begins_s + hold_s + 17.0])
    down, up = (float(x) for x in speed.web_at(times))
    return (
        Injected(late.number, "circumferential", BySpeed(slope, FAST_M_MIN), fault=True),
        Injected(aside.number, "lateral", Step(shift, down, up), fault=True),
    )


def _settings(
    job: Job, seed: int, faulty: frozenset[tuple[int, Axis]] | set[tuple[int, Axis]] = frozenset()
) -> tuple[Injected, ...]:
    """A small lasting offset and some scatter for every station but the reference."""
    injected = []
    for station in _others(job):
        for number, axis in enumerate(AXES):
            limit = job.tolerance_for(station.ink).of(axis)
            share = stream(seed, "motion", 1000 + 2 * station.number + number).uniform(-1.0, 1.0)
            level = (0.1 if (station.number, axis) in faulty else 0.3) * limit * share
            injected.append(Injected(station.number, axis, Constant(float(level))))
            injected.append(Injected(station.number, axis, Jitter(JITTER_MM)))
    return tuple(injected)


def _apart(job: Job, camera: Camera, seed: int, view: str) -> dict[str, TrueOffset]:
    """Random offsets that leave the marks apart and whole; smaller ones where it is crowded."""
    rng = stream(seed, "motion")
    others = [station.ink for station in _others(job)]
    shot = placed(Shot(camera=view), job, camera, wander_mm=0.0)
    for trial in range(4000):
        largest = LARGEST_FIRST_MM * 0.999**trial
        draws = rng.uniform(-largest, largest, (len(others), 2))
        offsets = {ink: TrueOffset(*map(float, d)) for ink, d in zip(others, draws, strict=True)}
        if _stand_apart(true_places(job, camera, offsets, shot), job, camera, shot):
            return offsets
    return {}


def _stand_apart(truth: FrameTruth, job: Job, camera: Camera, shot: Shot) -> bool:
    """True when every mark is whole and clear of the others by 0.25 mm."""
    reach = {(m.ink, m.edge): Outline(m.shape).reach_mm for m in job.marks}
    clear = 0.25
    circles = [
        (m.row_px, m.col_px, (reach[m.ink, m.edge] + clear / 2.0) / camera.mm_per_px)
        for m in truth.marks
    ]
    for k, (row, col, radius) in enumerate(circles):
        if not (radius < row < shot.rows - radius and radius < col < shot.cols - radius):
            return False
        for other_row, other_col, other_radius in circles[:k]:
            if math.hypot(row - other_row, col - other_col) < radius + other_radius:
                return False
    return True
