"""From a table of offsets to one study per colour and axis; holes are refused, cell by cell."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from regscan.errors import BadStudy, Problem
from regscan.instrument.gauge.study import Entry, Study
from regscan.job.job import AXES, Axis, Job

FEWEST_TRIALS = 2
FEWEST_PARTS = 2
FEWEST_REPEATS = 10
_SHOWN = 12


@dataclass(frozen=True, slots=True)
class View:
    """Which colour on which axis, as which camera and web edge saw it."""

    ink: str
    axis: Axis
    camera: str = ""
    edge: str = ""


@dataclass(frozen=True, slots=True)
class Arranged:
    """The studies, and the colours of which nothing was measured."""

    studies: dict[View, Study]
    not_seen: tuple[str, ...]


def arrange_crossed(table: np.ndarray, entries: Sequence[Entry], job: Job, source: str) -> Arranged:
    """Parts x set-ups x trials of every colour but the reference.

    Raises BadStudy naming every hole: a cell with fewer trials than the others, a frame
    that was not measured, a colour not good in a frame; and too few parts or trials.
    """
    holes = _not_measured(table, entries)
    if holes:
        raise BadStudy(source, _first_ones(holes))
    studies: dict[View, Study] = {}
    not_seen = []
    for key, rows in _series(table, job):
        ink, camera, edge = key
        frames = set(rows["frame"].tolist())
        cells = _cells([entry for entry in entries if entry.frame in frames], source)
        good = {str(r["frame"]): r for r in rows if r["status"] == "ok"}
        if not good:
            not_seen.append(_name(key))
            continue
        why = {str(r["frame"]): str(r["note"]) or str(r["status"]) for r in rows}
        new = list(_holes(cells, good, why, _name(key)))
        holes += new
        for axis in () if new else AXES:
            studies[View(ink, axis, camera, edge)] = _study(cells, good, axis)
    if holes:
        raise BadStudy(source, _first_ones(holes))
    if not studies:
        cure = "check job and camera: measure one of the frames first"
        raise BadStudy(source, Problem("", "no colour was good in any frame", cure))
    return Arranged(studies, tuple(not_seen))


def _not_measured(table: np.ndarray, entries: Sequence[Entry]) -> list[Problem]:
    """Frames of the study that gave no row at all."""
    measured = set(table["frame"].tolist())
    cure = "take this frame again, or leave its position out of the study"
    return [
        Problem(f"{_cell_name(entry.part, entry.setup)} ({entry.frame})", "was not measured", cure)
        for entry in entries
        if entry.frame not in measured
    ]


def arrange_standing(table: np.ndarray, job: Job, source: str) -> Arranged:
    """Repeats of one standing web: one part, one set-up, as many trials as good frames.

    Raises BadStudy where no colour has enough of them.
    """
    studies: dict[View, Study] = {}
    few, not_seen = [], []
    for key, rows in _series(table, job):
        good = rows[rows["status"] == "ok"]
        if not len(good):
            not_seen.append(_name(key))
        elif len(good) < FEWEST_REPEATS:
            what = f"{_name(key)} is good in {len(good)} of {len(rows)} frames"
            few.append(Problem("", what, f"take at least {FEWEST_REPEATS}; 25 or more are better"))
        else:
            at = np.flatnonzero(rows["status"] == "ok")
            for axis in AXES:
                ink, camera, edge = key
                values = good[f"{axis}_mm"].reshape(1, 1, -1)
                studies[View(ink, axis, camera, edge)] = Study(
                    ("",), ("",), values, at.reshape(1, 1, -1)
                )
    if few or not studies:
        cure = f"take at least {FEWEST_REPEATS} frames of the standing web"
        nothing = [Problem("", "no colour was good in any frame", cure)]
        raise BadStudy(source, few or nothing)
    return Arranged(studies, tuple(not_seen))


Key = tuple[str, str, str]  # ink, camera, edge


def _series(table: np.ndarray, job: Job) -> Iterator[tuple[Key, np.ndarray]]:
    """The rows of every colour that can be measured but the reference, in print order."""
    order = [s.ink for s in job.press.stations if job.ink(s.ink).measurable]
    views = sorted(set(map(tuple, table[["camera", "edge"]].tolist())))
    for camera, edge in views:
        for ink in order:
            mine = (table["ink"] == ink) & (table["camera"] == camera) & (table["edge"] == edge)
            if ink != job.reference and mine.any():
                yield (ink, camera, edge), table[mine]


def _name(key: Key) -> str:
    ink, camera, edge = key
    places = [part for part in (camera, f"{edge} edge" if edge else "") if part]
    return f"{ink} ({', '.join(places)})" if places else ink


@dataclass(frozen=True)
class _Cells:
    """Frames by part, set-up and trial (from 0)."""

    parts: tuple[str, ...]
    setups: tuple[str, ...]
    trials: int
    frames: Mapping[tuple[int, int, int], str]


def _cells(entries: Sequence[Entry], source: str) -> _Cells:
    """The study's plan; raises BadStudy where it is no whole crossing."""
    parts = tuple(dict.fromkeys(entry.part for entry in entries))
    setups = tuple(dict.fromkeys(entry.setup for entry in entries))
    groups: dict[tuple[str, str], list[Entry]] = {}
    for entry in entries:
        groups.setdefault((entry.part, entry.setup), []).append(entry)
    trials = max(len(group) for group in groups.values())
    problems = _too_small(parts, trials)
    for part in parts:
        for setup in setups:
            problems += _cell_problems(groups.get((part, setup), []), part, setup, trials)
    if problems:
        raise BadStudy(source, _first_ones(problems))
    frames = {}
    for (part, setup), group in groups.items():
        in_order = sorted(group, key=lambda entry: entry.trial or 0)
        for trial, entry in enumerate(in_order):
            frames[parts.index(part), setups.index(setup), trial] = entry.frame
    return _Cells(parts, setups, trials, frames)


def _too_small(parts: Sequence[str], trials: int) -> list[Problem]:
    problems = []
    if len(parts) < FEWEST_PARTS:
        what = f"one position only ({parts[0]}): how positions differ is not known"
        cure = (
            "add positions (10 are usual); or leave the study out: repeats of one standing web"
            " are judged by themselves"
        )
        problems.append(Problem("position", what, cure))
    if trials < FEWEST_TRIALS:
        what = "every position was measured once: nothing was repeated"
        problems.append(Problem("trial", what, "measure each at least twice; 3 times are usual"))
    return problems


def _cell_problems(group: Sequence[Entry], part: str, setup: str, trials: int) -> Iterator[Problem]:
    where = _cell_name(part, setup)
    if len(group) < trials:
        what = f"{len(group)} of {trials} trials"
        yield Problem(where, what, "take the missing frames, or leave this position out")
    numbers = [entry.trial for entry in group if entry.trial is not None]
    for number in sorted({n for n in numbers if numbers.count(n) > 1}):
        yield Problem(where, f"trial {number} is there twice", "number the trials 1, 2, 3")


def _cell_name(part: str, setup: str) -> str:
    return f"position {part}, set-up {setup}" if setup else f"position {part}"


def _holes(
    cells: _Cells, good: Mapping[str, np.void], why: Mapping[str, str], name: str
) -> Iterator[Problem]:
    for (part, setup, trial), frame in cells.frames.items():
        if frame not in good:
            reason = why.get(frame, "the frame was not measured")
            where = _cell_name(cells.parts[part], cells.setups[setup])
            what = f"{name} has no good value ({reason})"
            yield Problem(
                f"{where}, trial {trial + 1} ({frame})",
                what,
                "take this frame again, or leave the position out of the study",
            )


def _study(cells: _Cells, good: Mapping[str, np.void], axis: Axis) -> Study:
    shape = len(cells.parts), len(cells.setups), cells.trials
    values, order = np.empty(shape), np.empty(shape, int)
    for place, frame in cells.frames.items():
        values[place] = good[frame][f"{axis}_mm"]
        order[place] = place[2]
    return Study(cells.parts, cells.setups, values, order)


def _first_ones(problems: list[Problem]) -> list[Problem]:
    if len(problems) <= _SHOWN:
        return problems
    more = Problem("", f"and {len(problems) - _SHOWN} more holes", "as above")
    return [*problems[:_SHOWN], more]
