"""Invented histories with a known truth: runs measured week after week on one press."""

from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np
from drift.presses import JOB, Made, make_table
from drift.profiles import DOWN_UP

from regscan.drift.describe import describe_run
from regscan.history.keep import keep
from regscan.history.records import MEASURES, Entry, Kept, Reading, Setting
from regscan.job.job import AXES
from regscan.run import Inputs, Run, save_run
from regscan.verdict.correct import propose_moves
from regscan.verdict.gate import judge_run

BEGIN = datetime(2026, 1, 5, 9, 30, tzinfo=timezone(timedelta(hours=1)))
COLOURS = ("white", "cyan", "magenta", "yellow")  # black is the reference
LEVELS = {"play": 0.012, "speed term": 0.02, "warm-up": 0.015, "noise": 0.008}
SCATTER = {"play": 0.003, "speed term": 0.006, "warm-up": 0.005, "noise": 0.001}


def moment(week: float) -> str:
    return (BEGIN + timedelta(weeks=week)).isoformat(timespec="seconds")


def entry(number: int, week: float, **more) -> Entry:
    """An entry as it comes from a run; number makes its key."""
    plain = Entry(
        0, f"key {number}", moment(week), "ramp", "Honey jar", "Press 2", "black", "in register",
        f"/runs/{number}", 120, 118, 350.0, 12.5, 150.0, "0.1.0",
    )  # fmt: skip
    return replace(plain, **more)


def kept(number: int, week: float, readings=(), settings=(), **more) -> Kept:
    document = b'{"run": %d}' % number
    return Kept(entry(number, week, **more), tuple(readings), tuple(settings), document)


def readings(rng, grown=None, colours=COLOURS, level=1.0) -> list[Reading]:
    """One run's readings of every station, axis and measure, scattered about their levels.

    grown   {(station, axis, measure): how much above its level, mm}
    """
    grown = grown or {}
    return [
        Reading(
            station, ink, axis, measure,
            level * LEVELS[measure] + grown.get((station, axis, measure), 0.0)
            + rng.normal(0.0, SCATTER[measure]),
            SCATTER[measure], 0.10,
        )
        for station, ink in enumerate(colours, 1)
        for axis in AXES
        for measure in MEASURES
    ]  # fmt: skip


def weekly_readings(seed: int) -> list[Reading]:
    """Readings that nothing is to be learnt from."""
    return readings(np.random.default_rng(seed))


def setting(station: int, ink: str, first: float, last: float, axis="circumferential") -> Setting:
    return Setting(station, ink, axis, first, 0.004, last, 0.002, 150.0, 0.01, 0.10, None, "leave")


def measured_run(
    seed: int, week: float, truth=None, noise=None, job=JOB, folder: Path | None = None
):
    """A run as it would have been measured: from a table of offsets to levels and verdict.

    truth   {ink: function of time in s to (circumferential, lateral) mm}
    """
    table = make_table(Made(DOWN_UP, truth=truth or {}, noise_mm=noise or 0.008), seed)
    drift = describe_run(table, job)
    frames = len(np.unique(table["frame"]))
    inputs = Inputs("frames", frames, frames, (), "frames.csv", (), "0.1.0", moment(week))
    run = Run("ramp", job, (), inputs, drift, propose_moves(drift, job), judge_run(drift, job))
    if folder is not None:
        save_run(run, folder / "run.json")
    return run


def kept_run(seed: int, week: float, **more) -> Kept:
    return keep(measured_run(seed, week, **more), b"run %d of week %g" % (seed, week), Path("runs"))
