"""How each station stands at the newest frames: in, out, not to be told, not seen, to wait for."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise

from regscan.drift.series import expected_inks
from regscan.job.job import AXES, Axis, Job, Station
from regscan.offsets.rows import Row
from regscan.offsets.zero import zero_sd_mm
from regscan.report.swatches import swatch
from regscan.report.words import camera_words, offset_words
from regscan.verdict.rule import judge
from regscan.watch.entry import Entry, Memory
from regscan.watch.pending import Pending
from regscan.watch.watched import AxisState, Condition, Point, StationState
from regscan.watch.zero import number_in

NOW = 5  # frames whose mean is where a colour prints now
SPREAD = 12  # frames that tell how single ones spread
NOISE_MM = 0.015  # of single frames, until that many were seen; common practice, no source
LOST = 2  # newest frames in a row without a colour, from which on it is not found
TREND = 90  # frames
WORST_FIRST: tuple[Condition, ...] = (
    "out of tolerance",
    "not found",
    "doubtful",
    "cannot be decided",
    "wait",
    "no frames",
    "in register",
)
Key = tuple[str, str, str, Axis]
Warnings = Mapping[Key, str]
"""What is foretold, by camera, edge, ink and axis."""


@dataclass(frozen=True, slots=True)
class _View:
    """Frames of one camera and web edge."""

    camera: str
    edge: str
    entries: list[Entry]
    several: bool

    @property
    def words(self) -> str:
        return camera_words(self.camera, self.edge) if self.several else ""


@dataclass(frozen=True)
class Sights:
    """What states are told from: remembered frames, moves on their way, what is foretold.

    trends   whether the states are to have them, which is not needed for every frame.
    """

    memory: Memory
    pending: Pending
    warnings: Warnings
    trends: bool = False

    def stations(self) -> tuple[StationState, ...]:
        """Every station of the press, in print order."""
        views = list(_views(self.memory.entries))
        return tuple(self._station(one, views) for one in self.memory.job.press.stations)

    def _station(self, station: Station, views: list[_View]) -> StationState:
        job, ink = self.memory.job, station.ink
        colour = swatch(job.ink(ink).colour)
        if not job.ink(ink).measurable:
            words = "leaves no mark that a camera sees"
            return StationState(station.number, ink, colour, "not measurable", words, ())
        if ink == job.reference:
            return self._reference(station, colour, views)
        mine = [v for v in views if ink in expected_inks(job, v.camera, v.edge)]
        axes = tuple(self._worst(ink, axis, mine) for axis in AXES)
        leading = min(axes, key=_rank)
        return StationState(
            station.number, ink, colour, leading.condition, _words(axes, leading), axes
        )

    def _reference(self, station: Station, colour: str, views: list[_View]) -> StationState:
        words = "the others are measured against it"
        condition: Condition = "reference"
        for view in views:
            rows = [e.of(station.ink, view.edge) for e in view.entries[-LOST:]]
            if rows and all(row is None or row["status"] == "missing" for row in rows):
                condition, words = "not found", "not found: nothing can be measured without it"
        return StationState(station.number, station.ink, colour, condition, words, ())

    def _worst(self, ink: str, axis: Axis, views: list[_View]) -> AxisState:
        states = [self._axis(ink, axis, view) for view in views]
        if states:
            return min(states, key=_rank)
        tolerance = self.memory.job.tolerance_for(ink).of(axis)
        return AxisState(axis, "no frames", tolerance, None, None, "no frames yet", "", "", ())

    def _axis(self, ink: str, axis: Axis, view: _View) -> AxisState:
        job = self.memory.job
        counting = [e for e in view.entries if self.pending.counts(ink, axis, e)]
        tolerance = job.tolerance_for(ink).of(axis)
        now, sd = _level([e.of(ink, view.edge) for e in counting], axis)
        if sd is not None:
            sd = math.hypot(sd, zero_sd_mm(job, ink, view.edge, axis))
        newest = [e.of(ink, view.edge) for e in counting[-LOST:]]
        condition = _condition(newest, now, sd, tolerance, job)
        words = _axis_words(condition, axis, now, sd, newest)
        if condition == "not found":
            now = sd = None  # where it was is not where it is
        warning = self.warnings.get((view.camera, view.edge, ink, axis), "")
        return AxisState(
            axis, condition, tolerance, _rounded(now), _rounded(sd), words, view.words,
            warning if condition == "in register" else "",
            self._trend(ink, axis, view),
        )  # fmt: skip

    def _trend(self, ink: str, axis: Axis, view: _View) -> tuple[Point, ...]:
        if not self.trends:
            return ()
        along_web = self.memory.along_web()
        points = []
        for entry in view.entries[-TREND:]:
            web = entry.info.web_m
            at = web if along_web and web is not None else float(entry.number)
            row = entry.of(ink, view.edge)
            value = number_in(row, f"{axis}_mm") if row else math.nan
            points.append(Point(round(at, 3), _rounded(value)))
        return tuple(points)


def _views(entries: Iterable[Entry]) -> Iterable[_View]:
    found: dict[tuple[str, str], list[Entry]] = {}
    for entry in entries:
        edges = dict.fromkeys(str(row["edge"]) for row in entry.offsets)
        for edge in edges:
            found.setdefault((entry.info.camera, edge), []).append(entry)
    for (camera, edge), mine in sorted(found.items()):
        yield _View(camera, edge, mine, len(found) > 1)


def _level(rows: list[Row | None], axis: Axis) -> tuple[float | None, float | None]:
    """Mean of the newest good frames (doubtful ones where none is good) and its doubt."""
    recent = [row for row in rows[-NOW:] if row is not None]
    good = [row for row in recent if row["status"] == "ok"]
    used = good or [row for row in recent if row["status"] == "doubtful"]
    values = [number_in(row, f"{axis}_mm") for row in used]
    if not values:
        return None, None
    earlier = [r for r in rows[-SPREAD:] if r is not None and r["status"] != "missing"]
    seen = [number_in(row, f"{axis}_mm") for row in earlier]
    spread = NOISE_MM
    if len(seen) >= SPREAD:
        # From one frame to the next, so that a slow drift does not count as noise.
        steps = [(b - a) ** 2 for a, b in pairwise(seen)]
        spread = math.sqrt(math.fsum(steps) / len(steps) / 2.0)
    return math.fsum(values) / len(values), spread / math.sqrt(len(values))


def _condition(
    newest: list[Row | None], now: float | None, sd: float | None, limit: float, job: Job
) -> Condition:
    if not newest:
        return "wait"
    statuses = [row["status"] if row else "missing" for row in newest]
    if now is None or sd is None or set(statuses) == {"missing"}:
        return "not found"
    if set(statuses) <= {"doubtful", "missing"}:
        return "doubtful"
    return judge(now, sd, limit, job.gate.decision, job.gate.confidence)


def _axis_words(
    condition: Condition,
    axis: Axis,
    now: float | None,
    sd: float | None,
    newest: list[Row | None],
) -> str:
    if condition == "wait":
        return "no frame shows the new setting yet"
    notes = [str(row["note"]) for row in newest if row and row["note"]]
    if condition == "not found" or now is None:
        return notes[-1] if notes else "not found"
    doubt = f" ({notes[-1]})" if condition == "doubtful" and notes else ""
    return offset_words(axis, now, sd) + doubt


def _rank(state: AxisState) -> tuple[int, float]:
    share = abs(state.now_mm or 0.0) / state.tolerance_mm if state.tolerance_mm else 0.0
    return WORST_FIRST.index(state.condition), -share


def _words(axes: tuple[AxisState, ...], leading: AxisState) -> str:
    """What the station says in one line: the axis that decides."""
    view = f" ({leading.view})" if leading.view else ""
    if leading.condition in ("not found", "wait", "no frames", "doubtful"):
        return leading.words + view
    if leading.condition == "in register":
        return " \N{MIDDLE DOT} ".join(axis.words for axis in axes)
    return f"{leading.words}{view}"


def _rounded(value: float | None) -> float | None:
    return round(value, 4) if value is not None and math.isfinite(value) else None
