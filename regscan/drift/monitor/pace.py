"""Whether the speed holds, told frame by frame from the speeds the frames carry."""

import math
from collections import deque
from statistics import median

from regscan.drift.alert import Pace
from regscan.drift.spans import STEADY_M_MIN, STEADY_SHARE

NEWEST = 5  # frames whose middle speed counts: a spike or two in the log are no ramp


class PaceMaker:
    """Follows the speed; without one, the print counts as steady throughout.

    settle   metres of web (frames, where no metres are known) after a speed change within which
             the camera still sees what was printed before, or strain that still passes.
    """

    def __init__(self, settle: float) -> None:
        self.settle = settle
        self.newest: deque[tuple[float, float]] = deque(maxlen=NEWEST)
        self.held: float | None = None
        self.since = -math.inf
        self.seen = 0

    def feed(self, at: float, speed_m_min: float | None) -> Pace:
        """The pace at a frame that lies `at` metres (or frames) along the run."""
        if speed_m_min is None:
            return self._settled(at)
        self.seen += 1
        self.newest.append((at, speed_m_min))
        now = median(speed for _, speed in self.newest)
        if self.held is None:
            self._look_for_hold(now)
        elif abs(now - self.held) > _steady(self.held):
            self.held = None
        if self.held is None:
            return "settling" if self.seen < NEWEST else "speed changes"
        return self._settled(at)

    def _look_for_hold(self, now: float) -> None:
        speeds = [speed for _, speed in self.newest]
        if len(speeds) < NEWEST:
            return
        inner = sorted(speeds)[1:-1]
        # Its two halves must agree too, or a slow ramp would be a row of holds.
        early, late = sum(speeds[:2]) / 2.0, sum(speeds[-2:]) / 2.0
        if max(inner[-1] - inner[0], abs(late - early)) <= _steady(now):
            self.held = now
            # A run that begins in a hold has nothing to settle from.
            self.since = -math.inf if self.seen == NEWEST else self.newest[0][0]

    def _settled(self, at: float) -> Pace:
        return "steady" if at - self.since >= self.settle else "settling"


def _steady(speed: float) -> float:
    return max(STEADY_M_MIN, STEADY_SHARE * speed)
