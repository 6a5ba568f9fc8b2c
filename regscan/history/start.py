"""The same job again: where it was left last time, and where its set-ups have begun.

Two things are known of a job that ran before, for two ways to begin. Where each station lay
when the last run ended: whoever goes back to the settings noted then starts there, and makes
the move that was advised there. And where each station lay in the first hold of every run:
whoever starts from the zero marks again finds there what comes from plates and zero marks, and
can move it away before the first metre, as far as it repeats.
"""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regscan.errors import BadHistory, Problem
from regscan.history.records import Entry, Setting
from regscan.history.store import History
from regscan.job.job import Axis
from regscan.verdict.words import move_words

FEWEST = 3
"""Set-ups below which nothing is said of what repeats."""
SURE = 2.0
"""What repeats is moved away when it is so many of its own standard deviations."""
WORTH = 0.25
"""And when it is at least this share of the tolerance; less is noise of the set-up."""


@dataclass(frozen=True, slots=True)
class Begin:
    """One station on one axis.

    last_mm, speed_m_min   where the last run ended, and the speed that holds for.
    last_move              what was advised there, in words; "" for nothing.
    usual_mm, usual_sd_mm  median of where set-ups began, and one standard deviation of it.
    set_ups                how many it rests on.
    move_mm, words         from the zero marks: what to move before the first metre; None and
                           "" for nothing.
    """

    station: int
    ink: str
    axis: Axis
    last_mm: float | None
    last_sd_mm: float | None
    speed_m_min: float | None
    last_move: str
    usual_mm: float | None
    usual_sd_mm: float | None
    set_ups: int
    move_mm: float | None
    words: str
    per_100_m_min: float | None
    per_100_sd: float | None


@dataclass(frozen=True, slots=True)
class Start:
    """A starting point for a job on a press; run: the one it was left in last."""

    run: Entry
    runs: int
    lines: tuple[Begin, ...]


def start_of(history: History, job: str, press: str = "") -> Start:
    """The starting point for a job. Raises BadHistory for one that never ran.

    press   where the job ran on several; the press of its newest run otherwise.
    """
    runs = history.entries(job=job, press=press)
    if not runs:
        known = sorted({entry.job for entry in history.entries()})
        cure = "one of: " + ", ".join(known) if known else "add runs with regscan history add"
        what = f"holds no run of the job {job!r}{f' on {press!r}' if press else ''}"
        raise BadHistory(history.path, Problem("", what, cure))
    last = runs[-1]
    runs = [r for r in runs if (r.press, r.reference) == (last.press, last.reference)]
    begun: dict[tuple[str, Axis], list[float]] = defaultdict(list)
    for run in runs:
        for setting in history.settings(run.number):
            if setting.first_mm is not None:
                begun[setting.ink, setting.axis].append(setting.first_mm)
    speeds = {
        (reading.ink, reading.axis): (reading.value, reading.sd)
        for reading in history.readings(last.number)
        if reading.measure == "speed term"
    }
    lines = [
        _begin(setting, begun[setting.ink, setting.axis], speeds.get((setting.ink, setting.axis)))
        for setting in history.settings(last.number)
    ]
    return Start(last, len(runs), tuple(lines))


def _begin(
    setting: Setting, firsts: Sequence[float], speed: tuple[float | None, float | None] | None
) -> Begin:
    usual, sd = usual_of(firsts)
    move = _move(usual, sd, setting)
    per_100, per_100_sd = speed or (None, None)
    return Begin(
        station=setting.station, ink=setting.ink, axis=setting.axis,
        last_mm=setting.last_mm, last_sd_mm=setting.last_sd_mm, speed_m_min=setting.speed_m_min,
        last_move="" if setting.words.startswith("leave") else setting.words,
        usual_mm=usual, usual_sd_mm=sd, set_ups=len(firsts),
        move_mm=move, words=move_words(setting.axis, move) if move is not None else "",
        per_100_m_min=per_100, per_100_sd=per_100_sd,
    )  # fmt: skip


def usual_of(firsts: Sequence[float]) -> tuple[float | None, float | None]:
    """Median of where set-ups began, and its standard deviation (from the quartile-free
    median deviation, sqrt(pi/2) wider than a mean's); None for too few."""
    if len(firsts) < FEWEST:
        return None, None
    values = np.array(firsts)
    usual = float(np.median(values))
    # The median deviation of few values is small by (n - 1)/n at least.
    spread = 1.4826 * float(np.median(np.abs(values - usual))) * len(values) / (len(values) - 1)
    return usual, math.sqrt(math.pi / 2.0 / len(values)) * spread


def _move(usual: float | None, sd: float | None, setting: Setting) -> float | None:
    """Minus what repeats, in whole steps; None where it does not repeat or is a trifle."""
    if usual is None or sd is None:
        return None
    if abs(usual) < max(SURE * sd, WORTH * setting.tolerance_mm, setting.step_mm):
        return None
    steps = round(-usual / setting.step_mm)
    return steps * setting.step_mm
