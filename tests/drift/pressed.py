"""Runs of the simulator's press on the tests' own job: the same setting, other noise by seed."""

import numpy as np

from drift.presses import INKS, JOB
from regscan.job.job import AXES
from regscan.offsets.columns import OFFSET_COLUMNS
from regscan.offsets.table import table_of
from regscan.simulator.motion import Motion, true_offsets
from regscan.simulator.press.faults.parse import parse_fault
from regscan.simulator.press.noise import LEVELS, scatter
from regscan.simulator.speed import ramps

REFERENCE = INKS.index("black")
TWICE = ramps(150.0, 50.0, hold_s=60.0, ramp_s=20.0, times=2)


def pressed_table(seed, *faults, level="middle", speed=TWICE, pitch_m=1.2192):
    """Offsets of a run with these faults ("backlash station=2 ..."), and its true ones.

    Returns (table, true mm by ink and axis, places of the frames in m).
    """
    web = np.arange(pitch_m, float(speed.web_at(np.array([speed.times_s[-1]]))[0]), pitch_m)
    time = speed.time_at(web)
    motion = Motion(speed, (), 1, tuple(parse_fault(text) for text in faults))
    true = true_offsets(JOB, motion, web.tolist())
    rng = np.random.default_rng([11, seed])
    mm = {
        axis: np.array([[getattr(frame[ink], f"{axis}_mm") for frame in true] for ink in INKS])
        for axis in AXES
    }
    seen = {}
    for axis in AXES:
        mm[axis] = mm[axis] - mm[axis][REFERENCE]
        noise = scatter(LEVELS[level], web, len(INKS), rng) / 1000.0
        seen[axis] = mm[axis] + noise - noise[REFERENCE]
    sd = np.sqrt(2.0) * LEVELS[level].measure_um / 1000.0
    rows = [
        {
            "frame": f"{k:05d}.png",
            "time_s": time[k],
            "web_m": web[k],
            "speed_m_min": speed.speed_at(time[k : k + 1])[0],
            "station": number + 1,
            "ink": ink,
            "status": "ok",
            "circumferential_mm": seen["circumferential"][number, k],
            "lateral_mm": seen["lateral"][number, k],
            "circumferential_sd_mm": 0.0 if number == REFERENCE else sd,
            "lateral_sd_mm": 0.0 if number == REFERENCE else sd,
        }
        for k in range(len(web))
        for number, ink in enumerate(INKS)
    ]
    return table_of(rows, OFFSET_COLUMNS), mm, web
