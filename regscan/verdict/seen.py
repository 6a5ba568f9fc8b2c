"""What the frames show of moves: changes of offsets where the moves reached the camera."""

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from regscan.drift.drift import Drift
from regscan.drift.frames import Frames, list_frames
from regscan.drift.mean import correlation_frames
from regscan.drift.series import Series, all_series
from regscan.errors import BadTable, Problem
from regscan.job.job import AXES, Axis, Job
from regscan.verdict.effects import Effect, moved_instead, told
from regscan.verdict.movelog import Made
from regscan.verdict.views import settled_view
from regscan.verdict.waits import settling_m

LEAST = 2  # frames on either side of a move, without which nothing is told
BY_HAND_M = 1.0  # a move takes its time and is noted by hand: frames this near it are left out
Change = tuple[float, float]
"""(mm, sd in mm)"""


@dataclass(frozen=True)
class Group:
    """Moves of one actuator made at one place: only their sum shows."""

    moves: tuple[Made, ...]
    web_m: float | None
    turns: int | None

    @property
    def key(self) -> tuple[int, Axis]:
        """The actuator: its station and axis."""
        return self.moves[0].station, self.moves[0].axis

    @property
    def sum_mm(self) -> float:
        """All of its moves together."""
        return round(sum(one.move_mm for one in self.moves), 9)


def grouped(made: Sequence[Made], places: Sequence[float | None]) -> list[Group]:
    """Moves of one actuator at one place together, each with how often it turned round."""
    runs: dict[tuple[int, Axis, float | None], list[Made]] = defaultdict(list)
    for one, place in zip(made, places, strict=True):
        runs[one.station, one.axis, place].append(one)
    last: dict[tuple[int, Axis], float] = {}
    groups = []
    for (station, axis, place), moves in runs.items():
        turns: int | None = 0
        for one in moves:
            sign = math.copysign(1.0, one.move_mm) if one.move_mm else 0.0
            before = last.get((station, axis))
            if before is None:
                turns = None
            elif turns is not None and sign and sign != before:
                turns += int(sign)
            last[station, axis] = sign or before or 0.0
        groups.append(Group(tuple(moves), place, turns))
    return groups


def between_runs(made: Sequence[Made], before: Drift, after: Drift, job: Job) -> list[Effect]:
    """Effects of moves made between two runs: settled offsets after less those before."""
    groups = grouped(made, [None] * len(made))
    changes: dict[tuple[str, Axis], Change] = {}
    for station in job.press.stations:
        for axis in AXES:
            old, new = (
                settled_view([t for t in d.tracks if t.ink == station.ink and t.axis == axis])
                for d in (before, after)
            )
            if old and new and old.sd_mm is not None and new.sd_mm is not None:
                sd = math.hypot(old.sd_mm, new.sd_mm)
                changes[station.ink, axis] = new.offset_mm - old.offset_mm, sd
    together = tuple(range(len(groups)))
    seen = {(k, ink): (changes[ink, axis], together) for k in together for ink, axis in changes
            if axis == groups[k].key[1]}  # fmt: skip
    return _Judge(groups, job).effects(seen)


def within_run(made: Sequence[Made], table: np.ndarray, job: Job, path: Path) -> list[Effect]:
    """Effects of moves made while the frames of one run were taken.

    Each move is looked for where it reached the camera: its place plus the web path from
    its station, and the settling where its plate grips the web.

    Raises BadTable (about `path`, the log) for moves without a place among the frames.
    """
    frames = list_frames(table, None)
    groups = grouped(made, _places(made, frames, path))
    steps = _Steps(groups, frames, job)
    several: dict[tuple[int, str], list[tuple[Change, tuple[int, ...]]]] = defaultdict(list)
    for series in all_series(table, frames, job):
        if series.ink != job.reference:
            for k, seen in steps.of(series).items():
                several[k, series.ink].append(seen)
    return _Judge(groups, job).effects({key: _mean(seen) for key, seen in several.items()})


Seen = tuple[Change, tuple[int, ...]]
"""A change of one colour, and the groups that share it because no frame parts them."""


def _mean(seen: Sequence[Seen]) -> Seen:
    """Cameras and web edges that see one colour count alike."""
    count = len(seen)
    mean = sum(change for (change, _), _ in seen) / count
    sd = math.sqrt(sum(sd**2 for (_, sd), _ in seen)) / count
    return (mean, sd), seen[0][1]


@dataclass(frozen=True)
class _Judge:
    """Holds what was seen against what the moves should have done."""

    groups: Sequence[Group]
    job: Job

    def effects(self, seen: Mapping[tuple[int, str], Seen]) -> list[Effect]:
        return [self._effect(k, seen) for k in range(len(self.groups))]

    def _effect(self, k: int, seen: Mapping[tuple[int, str], Seen]) -> Effect:
        first = self.groups[k].moves[0]
        own = {ink: self._own(k, ink, at) for (group, ink), at in seen.items() if group == k}
        if first.ink == self.job.reference:
            mine = _middle([(-change, sd) for change, sd in own.values()])
            others = []
        else:
            mine = own.get(first.ink)
            others = [
                (s.number, s.ink, *own[s.ink])
                for s in self.job.press.stations
                if s.ink in own and s.ink != first.ink
            ]
        return _told(self.groups[k], mine, others, self.job)

    def _own(self, k: int, ink: str, seen: Seen) -> Change:
        """What of a change is left for group k when the others did what they should."""
        (change, sd), together = seen
        axis = self.groups[k].key[1]
        same = [j for j in together if j != k and self.groups[j].key[1] == axis]
        other = sum(self._part(j, ink) for j in same)
        return change - other, sd

    def _part(self, j: int, ink: str) -> float:
        """What group j should do to a colour's offset."""
        group = self.groups[j]
        if group.moves[0].ink == self.job.reference:
            return -group.sum_mm
        return group.sum_mm if group.moves[0].ink == ink else 0.0


def _middle(changes: Sequence[Change]) -> Change | None:
    """The middle of several, so that one colour that went its own way does not decide."""
    if not changes:
        return None
    values, sds = zip(*changes, strict=True)
    return float(np.median(values)), float(np.sqrt(np.mean(np.square(sds))))


def _told(
    group: Group, seen: Change | None, others: Sequence[tuple[int, str, float, float]], job: Job
) -> Effect:
    first = group.moves[0]
    effect = Effect(
        station=first.station,
        ink=first.ink,
        axis=first.axis,
        moves=group.moves,
        expected_mm=group.sum_mm,
        seen_mm=None if seen is None else seen[0],
        sd_mm=None if seen is None else seen[1],
        turns=group.turns,
        answer="cannot be told",
        why="too few frames before or after it show the colour settled",
    )
    step = job.press.stations[first.station - 1].steps.of(first.axis)
    return moved_instead(told(effect, step), others)


def _places(made: Sequence[Made], frames: Frames, path: Path) -> list[float]:
    """Web position of every move."""
    problems: list[Problem] = []
    places: list[float] = []
    known = np.isfinite(frames.web_m)
    timed = known & np.isfinite(frames.time_s)
    for one in made:
        place = one.web_m
        if place is None and one.time_s is not None and timed.any():
            place = float(np.interp(one.time_s, frames.time_s[timed], frames.web_m[timed]))
        if place is None or not known.any():
            cure = "note web_m or time_s of every move, or give the run before them with --before"
            what = "has no place among the frames" if known.any() else "the run has no web position"
            problems.append(Problem(f"line {one.line}", what, cure))
        else:
            places.append(place)
    if problems:
        raise BadTable(path, problems)
    return places


class _Steps:
    """How much each colour changed where moves reached the camera, fitted together."""

    def __init__(self, groups: Sequence[Group], frames: Frames, job: Job) -> None:
        self.groups, self.frames, self.job = groups, frames, job
        self.reference = job.station_of(job.reference).number

    def of(self, series: Series) -> dict[int, Seen]:
        """What changed at each group's place, by the group's number.

        Own moves and those of the reference are fitted together. A move of another
        station is looked for where this one would show it, beside those: nothing should
        be there, unless the wrong station was moved.
        """
        used = series.ok & np.isfinite(self.frames.web_m[series.frame])
        web, values = self.frames.web_m[series.frame][used], series.value_mm[used]
        mine = [k for k, g in enumerate(self.groups) if g.key[1] == series.axis]
        own = [k for k in mine if self.groups[k].key[0] in (series.station, self.reference)]
        found = self._fitted(own, series, web, values)
        for k in set(mine) - set(own):
            fitted = self._fitted([*own, k], series, web, values)
            if k in fitted and fitted[k][1] == (k,):
                found[k] = fitted[k]
        return found

    def _fitted(
        self, wanted: Sequence[int], series: Series, web: np.ndarray, values: np.ndarray
    ) -> dict[int, Seen]:
        edges = sorted((self._edge_m(k, series), k) for k in wanted)
        clusters = _clusters(edges, web)
        keep = np.ones(len(web), dtype=bool)
        for cluster in clusters:
            settling = max(self._settling_m(k, series) for _, k in cluster)
            first, last = cluster[0][0] - BY_HAND_M, cluster[-1][0] + BY_HAND_M + settling
            keep &= (web <= first) | (web > last)
        changes = _steps(web[keep], values[keep], [cluster[-1][0] for cluster in clusters])
        return {
            k: (change, tuple(sorted(j for _, j in cluster)))
            for cluster, change in zip(clusters, changes, strict=True)
            if change is not None
            for _, k in cluster
        }

    def _edge_m(self, k: int, series: Series) -> float:
        """Web position at which group k shows in this colour."""
        number = self.groups[k].key[0]
        shown_by = self.reference if number == self.reference else series.station
        try:
            path = self.job.press.path_to_camera_m(shown_by, series.camera)
        except KeyError:
            path = 0.0
        return (self.groups[k].web_m or 0.0) + path

    def _settling_m(self, k: int, series: Series) -> float:
        station = self.job.press.stations[self.groups[k].key[0] - 1]
        return settling_m(station, self.job)


def _clusters(edges: Sequence[tuple[float, int]], web: np.ndarray) -> list[list[tuple[float, int]]]:
    """Edges that too few frames part are one."""
    clusters: list[list[tuple[float, int]]] = []
    for edge in edges:
        if clusters:
            last = clusters[-1][-1][0]
            apart = (web > last + BY_HAND_M) & (web <= edge[0] - BY_HAND_M)
            between = int(apart.sum())
            if between < LEAST:
                clusters[-1].append(edge)
                continue
        clusters.append([edge])
    return clusters


def _steps(web: np.ndarray, values: np.ndarray, edges: Sequence[float]) -> list[Change | None]:
    """Least squares of a level and one step per edge, in the order of the edges."""
    counts = np.bincount(np.searchsorted(edges, web, side="left"), minlength=len(edges) + 1)
    design = np.stack([np.ones(len(web)), *(web > edge for edge in edges)], axis=1).astype(float)
    if len(web) < 2 * LEAST:
        return [None] * len(edges)
    weights = np.linalg.pinv(design) @ values
    residuals = values - design @ weights
    freedom = max(len(web) - design.shape[1], 1)
    tau = correlation_frames([residuals])
    spread = math.sqrt(float(residuals @ residuals) / freedom * tau)
    return [
        (float(weights[at + 1]), spread * math.sqrt(1.0 / counts[at] + 1.0 / counts[at + 1]))
        if min(counts[at], counts[at + 1]) >= LEAST
        else None
        for at in range(len(edges))
    ]
