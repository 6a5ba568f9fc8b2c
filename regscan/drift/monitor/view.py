"""One camera's (and web edge's) frames, all its colours and axes together."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regscan.drift.alert import Forecast, Pace
from regscan.drift.monitor.lessons import Lessons
from regscan.drift.monitor.noise import Learnt
from regscan.drift.monitor.pace import PaceMaker
from regscan.drift.monitor.record import MonitorRules
from regscan.drift.monitor.shift import Shifts
from regscan.drift.monitor.warner import Warner
from regscan.job.job import Axis

JUMP_SD = 2.0  # between where the print is and where its movement would have it


@dataclass(frozen=True, slots=True)
class Channel:
    """One colour on one axis."""

    station: int
    ink: str
    axis: Axis
    tolerance_mm: float


@dataclass(frozen=True, slots=True)
class Shift:
    """A channel whose chart signals (cusum, else EWMA): its level now and before, since when."""

    channel: int
    cusum: bool
    level_mm: float
    before_mm: float
    since: float


@dataclass(frozen=True, slots=True)
class Said:
    """What one frame gave."""

    pace: Pace
    shifts: tuple[Shift, ...] = ()
    warnings: tuple[tuple[int, Forecast], ...] = ()


class View:
    """Takes frame after frame, in the order of the run.

    settle    steps after a speed change within which a frame still shows what was before.
    metres    whether steps are metres of web; else they are frames.
    """

    def __init__(
        self, channels: Sequence[Channel], settle: float, metres: bool, rules: MonitorRules
    ) -> None:
        self.channels, self.metres, self.rules = tuple(channels), metres, rules
        self.tolerance = np.array([c.tolerance_mm for c in channels])
        axis = np.array([c.axis == "lateral" for c in channels], dtype=int)
        self.pacemaker = PaceMaker(settle)
        self.lessons = Lessons(axis, rules.learn_frames)
        self.pace: Pace = "settling"
        self.at: float | None = None
        self.learnt: Learnt | None = None
        self.shifts: Shifts | None = None
        self.warner: Warner | None = None  # while the speed holds
        self.ramp_warner: Warner | None = None  # while it changes

    def feed(self, at: float, speed_m_min: float | None, samples: np.ndarray) -> Said:
        """Take a frame that lies `at` steps along the run; NaN for a colour without a value."""
        steps = 0.0 if self.at is None else max(at - self.at, 0.0)
        self.at = at
        pace = self.pacemaker.feed(at, speed_m_min)
        if pace != self.pace:
            self._begin(pace)
        if pace == "steady":
            self._learn(at, samples)
        if not (self.shifts and self.warner and self.ramp_warner):
            return Said(pace)
        if pace == "steady":
            shifts = self._charted(at, steps, samples)
            return Said(pace, shifts, tuple(self.warner.feed(steps, samples)))
        self.warner.pass_by(steps)
        ramping = pace == "speed changes"
        return Said(pace, (), tuple(self.ramp_warner.feed(steps, samples)) if ramping else ())

    def restart(self, channels: Sequence[bool]) -> None:
        """The channels that are True print elsewhere from here on; their noise stays known."""
        self.lessons.new_stretch()
        if self.shifts and self.warner:
            self.shifts.restart(np.array(channels))
            self.warner.restart(np.array(channels))

    def _begin(self, pace: Pace) -> None:
        """Another pace: the print may be elsewhere from here on."""
        self.pace = pace
        self.lessons.new_stretch()
        everything = np.ones(len(self.channels), dtype=bool)
        if self.shifts and self.warner and self.ramp_warner:
            self.shifts.restart(everything)
            self.warner.new_level(everything)
            self.ramp_warner.restart(everything)

    def _learn(self, at: float, samples: np.ndarray) -> None:
        earlier = list(self.lessons.present())
        learnt = self.lessons.feed(at, samples)
        if learnt is None:
            return
        self.learnt = learnt
        if self.shifts and self.warner and self.ramp_warner:
            self.shifts.learn(learnt.noise, learnt.frames)
            self.warner.learn(learnt.noise)
            self.ramp_warner.learn(learnt.noise)
            return
        pitch = self._pitch([place for place, _ in self.lessons.present()])
        self.shifts = Shifts(learnt.noise, learnt.frames, self.rules, pitch)
        about = learnt.noise, self.tolerance, self.rules, (self.metres, pitch)
        self.warner, self.ramp_warner = Warner(*about), Warner(*about)
        self._look_back(self.shifts, self.warner, earlier)

    @staticmethod
    def _look_back(
        shifts: Shifts, warner: Warner, earlier: Sequence[tuple[float, np.ndarray]]
    ) -> None:
        """What the noise was told from says where the print is too, and raises no alarm."""
        before = None
        for place, values in earlier:
            steps = 0.0 if before is None else place - before
            before = place
            ewma, cusum = shifts.feed(place, steps, values)
            warner.feed(steps, values)
            shifts.clear(ewma | cusum)

    def _pitch(self, places: Sequence[float]) -> float:
        steps = np.diff(places)
        return float(np.median(steps[steps > 0])) if (steps > 0).any() else 1.0

    def _charted(self, at: float, steps: float, samples: np.ndarray) -> tuple[Shift, ...]:
        assert self.shifts
        assert self.warner
        ewma, cusum = self.shifts.feed(at, steps, samples)
        signals = ewma | cusum
        if not signals.any():
            return ()
        found = tuple(self._shift(int(k), bool(cusum[k])) for k in np.flatnonzero(signals))
        self.shifts.restart(signals)
        self.warner.new_level(self._jumped(found))
        self.lessons.new_stretch()
        return found

    def _jumped(self, found: Sequence[Shift]) -> np.ndarray:
        """Channels that jumped; those that drifted there are where the warner has them."""
        assert self.warner
        assert self.learnt
        level, noise = self.warner.outlook.state()[0], self.learnt.noise.sd[0]
        jumped = np.zeros(len(self.channels), dtype=bool)
        for shift in found:
            k = shift.channel
            jumped[k] = abs(level[k] - shift.level_mm) > JUMP_SD * noise[k]
        return jumped

    def _shift(self, k: int, cusum: bool) -> Shift:
        assert self.shifts
        return Shift(k, cusum, *self.shifts.moved(k))
