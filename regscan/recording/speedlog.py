"""SpeedLog: the web's speed over time, and the web that had passed: its integral.

Between two rows the speed is taken to change evenly, so the trapezoid rule is
exact. A stretch without rows that is much longer than the log's usual pitch is
a gap: inside it there is no speed, and after it no web position, because
nobody knows how much web passed. Nothing is made up to bridge it.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, overload

import numpy as np
import numpy.typing as npt

from regscan.errors import BadSpeedLog, Problem
from regscan.recording.csvfile import Layout, Sheet, capped, number, read_sheet
from regscan.units import SECONDS_PER_MINUTE

Numbers = npt.NDArray[np.float64]

# A gap is longer than this many usual pitches and than this many seconds (common
# practice, no source: a logger that skips a beat or two is still logging).
GAP_PITCHES = 5.0
GAP_LEAST_S = 1.0
# No web runs faster; a value beyond it is another unit.
FASTEST_M_MIN = 5000.0

_LAYOUT = Layout(needed=("time_s", "speed_m_min"), known=("time_s", "speed_m_min"))


@dataclass(frozen=True, eq=False)
class SpeedLog:
    """Speed samples on the clock of the frames.

    time_s        N float, each later than the one before.
    speed_m_min   N float, zero or more.
    gaps          (start_s, end_s) of every stretch without samples.
    path          where it was read from; "" when it was not a file.
    """

    time_s: Numbers
    speed_m_min: Numbers
    gaps: tuple[tuple[float, float], ...] = ()
    path: str = ""

    @classmethod
    def of(cls, time_s: npt.ArrayLike, speed_m_min: npt.ArrayLike, path: str = "") -> "SpeedLog":
        """A log from its samples, which are in order of time; finds the gaps."""
        times = np.asarray(time_s, dtype=np.float64)
        speeds = np.asarray(speed_m_min, dtype=np.float64)
        return cls(times, speeds, _gaps(times), path)

    @overload
    def speed_at(self, time_s: float) -> float: ...
    @overload
    def speed_at(self, time_s: Numbers) -> Numbers: ...
    def speed_at(self, time_s: Any) -> Any:
        """Speed in m/min at that time; NaN outside the log and inside a gap."""
        times = np.asarray(time_s, dtype=np.float64)
        speed = np.interp(times, self.time_s, self.speed_m_min, left=np.nan, right=np.nan)
        for start, end in self.gaps:
            speed = np.where((times > start) & (times < end), np.nan, speed)
        return speed if np.ndim(time_s) else float(speed)

    @overload
    def web_at(self, time_s: float) -> float: ...
    @overload
    def web_at(self, time_s: Numbers) -> Numbers: ...
    def web_at(self, time_s: Any) -> Any:
        """Metres of web since the log's first row; NaN outside the log and after a gap began."""
        times = np.asarray(time_s, dtype=np.float64)
        last = self.gaps[0][0] if self.gaps else self.time_s[-1]
        known = (times >= self.time_s[0]) & (times <= last)
        at = np.clip(np.searchsorted(self.time_s, times, side="right") - 1, 0, len(self.time_s) - 2)
        since_s = np.where(known, times - self.time_s[at], 0.0)
        share = since_s / np.diff(self.time_s)[at]  # a slope could be beyond all numbers
        mean_m_min = self.speed_m_min[at] + 0.5 * share * np.diff(self.speed_m_min)[at]
        metres = self._metres[at] + mean_m_min * since_s / SECONDS_PER_MINUTE
        metres = np.where(known, metres, np.nan)
        return metres if np.ndim(time_s) else float(metres)

    @cached_property
    def _metres(self) -> Numbers:
        """Web passed at each sample, as if there were no gaps (web_at hides what follows one)."""
        means = 0.5 * (self.speed_m_min[1:] + self.speed_m_min[:-1])
        passed = np.cumsum(means * np.diff(self.time_s)) / SECONDS_PER_MINUTE
        return np.concatenate(([0.0], passed))

    def covers(self, time_s: float) -> bool:
        """Whether that time lies between the first and the last row."""
        return bool(self.time_s[0] <= time_s <= self.time_s[-1])


def _gaps(times: Numbers) -> tuple[tuple[float, float], ...]:
    steps = np.diff(times)
    if len(steps) < 2:
        return ()
    longest = max(GAP_PITCHES * float(np.median(steps)), GAP_LEAST_S)
    return tuple((float(times[k]), float(times[k + 1])) for k in np.flatnonzero(steps > longest))


def read_speed_log(path: Path) -> SpeedLog:
    """The speed log in a file. Raises BadSpeedLog listing what is wrong with it, by line."""
    path = Path(path)
    sheet = read_sheet(path, BadSpeedLog, _LAYOUT)
    problems = list(_row_problems(sheet))
    if not problems and len(sheet.rows) < 2:
        what = f"has {len(sheet.rows)} row{'' if len(sheet.rows) == 1 else 's'} of values"
        problems = [Problem("", what, "a speed over time needs two rows at least")]
    if problems:
        raise BadSpeedLog(path, capped(problems))
    columns = [[float(row[name]) for _, row in sheet.rows] for name in _LAYOUT.needed]
    return SpeedLog.of(columns[0], columns[1], str(path))


def _row_problems(sheet: Sheet) -> Iterator[Problem]:
    before: tuple[int, float] | None = None
    for line, row in sheet.rows:
        values: dict[str, float] = {}
        for name in _LAYOUT.needed:
            try:
                values[name] = number(row[name])
            except ValueError as fault:
                cure = "write a number with a decimal point, or leave the row out"
                yield Problem(f"line {line}, {name}", str(fault), cure)
        speed, time = values.get("speed_m_min"), values.get("time_s")
        if speed is not None and not 0.0 <= speed <= FASTEST_M_MIN:
            what = f"{speed:g} m/min is no speed of a web"
            yield Problem(f"line {line}, speed_m_min", what, "write it in m/min, zero or more")
        if time is None:
            continue
        if before and time <= before[1]:
            how = "is the time of" if time == before[1] else "lies before"
            what = f"{time:.12g} s {how} line {before[0]} ({before[1]:.12g} s)"
            yield Problem(f"line {line}, time_s", what, "each row must be later than the last")
        before = line, time
