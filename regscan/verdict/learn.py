"""Learning the press: true step, play and direction of each actuator from logged moves.

    seen = gain * noted - play * turns

noted is the sum of the moves as the job's step has it, turns how often the direction
turned round (signed). Weighted least squares per station and axis over all moves told so far.
"""

import csv
import io
import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from regscan.errors import BadTable, Problem
from regscan.job.job import AXES, Axis, Job
from regscan.offsets.columns import Column
from regscan.offsets.csvtext import read_cells
from regscan.verdict.actuator import Actuator, Key
from regscan.verdict.effects import Effect
from regscan.wholefile import write_whole

COLUMNS = (
    Column("run", "U256", "the run's folder"),
    Column("line", "i4", "line of the move in its log"),
    Column("station", "i4", "number of the station"),
    Column("axis", "U16", "circumferential or lateral"),
    Column("noted_mm", "f8", "the move as it was noted"),
    Column("turns", "i4", "how often its direction turned round, signed; empty: not known"),
    Column("seen_mm", "f8", "what the frames show"),
    Column("sd_mm", "f8", "one standard deviation of it"),
    Column("answer", "U16", "as expected, too little, ..."),
)
LEAST_SHARE = 0.2  # a move less sure than this share of itself teaches nothing
UNKNOWN_PLAY_MM = 0.03  # that a first move may have lost, where the job states no play
SURE = 3.0  # standard deviations from zero, from which on play or direction is believed


@dataclass(frozen=True, slots=True)
class Lesson:
    """One move that was told, as kept in the press's own file."""

    run: str
    line: int
    station: int
    axis: Axis
    noted_mm: float
    turns: int | None
    seen_mm: float
    sd_mm: float
    answer: str


def lessons_of(effects: Iterable[Effect], run: str) -> list[Lesson]:
    """What of the effects can teach anything: those that were told, of the right station."""
    return [
        Lesson(
            run,
            one.moves[0].line,
            one.station,
            one.moves[0].axis,
            one.expected_mm,
            one.turns,
            one.seen_mm,
            one.sd_mm,
            one.answer,
        )
        for one in effects
        if one.answer not in ("cannot be told", "wrong station", "no effect")
        and one.seen_mm is not None
        and one.sd_mm is not None
    ]


def learn(lessons: Iterable[Lesson], job: Job) -> dict[Key, Actuator]:
    """What is known of each actuator that was moved often and surely enough."""
    by_key: dict[Key, list[Lesson]] = defaultdict(list)
    for lesson in lessons:
        by_key[lesson.station, lesson.axis].append(lesson)
    found = {}
    for key, own in by_key.items():
        number, axis = key
        station = job.press.stations[number - 1]
        actuator = _fit(own, station.steps.of(axis), station.play.of(axis))
        if actuator:
            found[key] = actuator
    return found


def _fit(lessons: Sequence[Lesson], step_mm: float, play_mm: float) -> Actuator | None:
    used = [one for one in lessons if one.sd_mm < LEAST_SHARE * abs(one.noted_mm)]
    if not used:
        return None
    noted = np.array([one.noted_mm for one in used])
    seen = np.array([one.seen_mm for one in used])
    turns = np.array([one.turns or 0 for one in used], dtype=float)
    lost = play_mm or UNKNOWN_PLAY_MM
    # A first move lost anything from nothing to all of the play.
    sds = np.array([math.hypot(one.sd_mm, 0.0 if one.turns is not None else lost) for one in used])
    gain, sd, play, play_sd = _solved(noted, turns, seen, sds)
    if play is None:
        play, play_sd = play_mm, 0.0
    if abs(gain) < SURE * sd:
        return None
    return Actuator(step_mm * gain, max(play, 0.0), sd / abs(gain), play_sd, learned=True)


def _solved(
    noted: np.ndarray, turns: np.ndarray, seen: np.ndarray, sds: np.ndarray
) -> tuple[float, float, float | None, float]:
    """(gain, its sd, play, its sd); play None where no move tells it apart."""
    columns = np.stack([noted, -turns], axis=1)
    both = bool(turns.any()) and np.linalg.matrix_rank(columns / sds[:, None], tol=3.0) == 2
    design = columns if both else columns[:, :1]
    weights = 1.0 / sds**2
    covariance = np.linalg.inv(design.T @ (weights[:, None] * design))
    found = covariance @ (design.T @ (weights * seen))
    misfit = float((weights * (seen - design @ found) ** 2).sum())
    freedom = len(seen) - design.shape[1]
    # Where moves differ by more than their doubt, the doubt grows to match (Birge's ratio).
    covariance = covariance * max(1.0, misfit / freedom if freedom else 1.0)
    sd = np.sqrt(np.diag(covariance))
    if not both:
        return float(found[0]), float(sd[0]), None, 0.0
    return float(found[0]), float(sd[0]), float(found[1]), float(sd[1])


def actuator_words(actuator: Actuator, stated_mm: float) -> str:
    """What was learned, in words: true step, play, direction, each with its doubt."""
    sd = abs(actuator.step_mm) * actuator.step_sd
    step = f"one step moves {abs(actuator.step_mm):.5f} ±{sd:.5f} mm (stated {stated_mm:g})"
    play = f"play {actuator.play_mm:.3f}"
    play += f" ±{actuator.play_sd_mm:.3f} mm" if actuator.play_sd_mm else " mm as the job has it"
    way = "; it runs against the job's direction" if actuator.step_mm < 0 else ""
    return f"{step}; {play}{way}"


def read_lessons(path: Path, job: Job) -> list[Lesson]:
    """The lessons of a press's file; none where there is no such file yet. Raises BadTable."""
    if not path.exists():
        return []
    cells = read_cells(path, COLUMNS)
    missing = [c.name for c in COLUMNS if c.name not in cells.columns]
    if missing:
        what = f"has no column {', '.join(missing)}"
        raise BadTable(path, Problem("", what, "name the file that --learned wrote before"))
    found, problems = [], []
    for row, line in enumerate(cells.lines):
        try:
            found.append(_lesson({c: values[row] for c, values in cells.columns.items()}, job))
        except (ValueError, KeyError) as fault:
            cure = "correct the line or remove it"
            problems.append(Problem(f"line {line}", f"is no move of this press ({fault})", cure))
    if problems:
        raise BadTable(path, problems)
    return found


def _lesson(cells: Mapping[str, str], job: Job) -> Lesson:
    number, axis = int(cells["station"]), next((a for a in AXES if a == cells["axis"]), None)
    if axis is None or not 1 <= number <= len(job.press.stations):
        raise ValueError(f"station {number}, axis {cells['axis']!r}")
    noted, seen, sd = (float(cells[name]) for name in ("noted_mm", "seen_mm", "sd_mm"))
    if not all(map(math.isfinite, (noted, seen, sd))) or sd < 0.0:
        raise ValueError("a number that is not finite")
    turns = int(cells["turns"]) if cells["turns"] else None
    return Lesson(
        cells["run"], int(cells["line"]), number, axis, noted, turns, seen, sd, cells["answer"]
    )


def merged(known: Sequence[Lesson], new: Sequence[Lesson]) -> list[Lesson]:
    """Old lessons and new ones; a move told again takes its old lesson's place."""
    again = {(one.run, one.line, one.station, one.axis) for one in new}
    kept = [one for one in known if (one.run, one.line, one.station, one.axis) not in again]
    return [*kept, *new]


def write_lessons(path: Path, lessons: Sequence[Lesson]) -> None:
    """The press's file, whole or not at all. Raises BadOutput."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([column.name for column in COLUMNS])
    for one in lessons:
        values = [getattr(one, column.name) for column in COLUMNS]
        writer.writerow(["" if v is None else f"{v:.6f}" if isinstance(v, float) else v
                         for v in values])  # fmt: skip
    write_whole(path, text.getvalue())
