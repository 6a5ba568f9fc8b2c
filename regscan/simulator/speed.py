"""Speed of the web over a run: straight lines between points in time, metres by integration."""

from dataclasses import dataclass

import numpy as np

from regscan.units import SECONDS_PER_MINUTE


@dataclass(frozen=True, slots=True)
class SpeedProfile:
    """Speeds (m/min) at rising times (s from the start of the run), straight in between.

    Before the first and after the last point the speed stays what it is there. The
    speed is above zero throughout, so that time and web metres belong to each other.
    """

    times_s: tuple[float, ...]
    speeds_m_min: tuple[float, ...]

    def __post_init__(self) -> None:
        rising = all(a < b for a, b in zip(self.times_s, self.times_s[1:], strict=False))
        if len(self.times_s) != len(self.speeds_m_min) or not self.times_s or not rising:
            raise ValueError("a speed profile needs one speed for each of its rising times")
        if min(self.speeds_m_min) <= 0.0:
            raise ValueError("a speed profile needs speeds above zero")

    @property
    def duration_s(self) -> float:
        """Time of the last point."""
        return self.times_s[-1]

    def speed_at(self, time_s: np.ndarray) -> np.ndarray:
        """Speed in m/min at times in s."""
        return np.asarray(np.interp(time_s, self.times_s, self.speeds_m_min))

    def web_at(self, time_s: np.ndarray) -> np.ndarray:
        """Web in m that has passed since time 0 (negative before)."""
        knots, metres, speeds, gains = self._pieces()
        piece = np.clip(np.searchsorted(knots, time_s, side="right") - 1, 0, len(gains) - 1)
        since = np.asarray(time_s, dtype=float) - knots[piece]
        return np.asarray(metres[piece] + since * (speeds[piece] + gains[piece] * since / 2.0))

    def time_at(self, web_m: np.ndarray) -> np.ndarray:
        """Time in s at which so many metres have passed; undoes web_at."""
        knots, metres, speeds, gains = self._pieces()
        piece = np.clip(np.searchsorted(metres, web_m, side="right") - 1, 0, len(gains) - 1)
        length = np.asarray(web_m, dtype=float) - metres[piece]
        root = np.sqrt(speeds[piece] ** 2 + 2.0 * gains[piece] * length)
        return np.asarray(knots[piece] + 2.0 * length / (speeds[piece] + root))

    def gain_at(self, time_s: np.ndarray) -> np.ndarray:
        """Acceleration in m/s^2, + when the web gains speed; at a corner that of what follows."""
        knots, _, _, gains = self._pieces()
        piece = np.searchsorted(knots, time_s, side="right") - 1
        return np.asarray(gains[np.clip(piece, 0, len(gains) - 1)])

    def direction_at(self, time_s: np.ndarray) -> np.ndarray:
        """+1 when the speed last rose, -1 when it last fell, 0 before its first change."""
        knots, _, _, gains = self._pieces()
        signs = np.sign(gains)
        for k in range(1, len(signs)):
            signs[k] = signs[k] or signs[k - 1]
        piece = np.searchsorted(knots, time_s, side="right") - 1
        return np.asarray(signs[np.clip(piece, 0, len(signs) - 1)])

    def _pieces(self) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """Start of each straight piece: time s, web m, speed m/s, and its gain m/s^2.

        A steady piece stands before the first and after the last point.
        """
        times = np.asarray(self.times_s, dtype=float)
        speeds = np.asarray(self.speeds_m_min, dtype=float) / SECONDS_PER_MINUTE
        gains = np.concatenate([[0.0], np.diff(speeds) / np.diff(times), [0.0]])
        steps = np.diff(times) * (speeds[1:] + speeds[:-1]) / 2.0
        metres = speeds[0] * times[0] + np.concatenate([[0.0], np.cumsum(steps)])
        # A metre before the first point is as good a start as any for the steady piece.
        knots = np.concatenate([[times[0] - 1.0 / speeds[0]], times])
        return (
            knots,
            np.concatenate([[metres[0] - 1.0], metres]),
            np.concatenate([[speeds[0]], speeds]),
            gains,
        )


def steady(speed_m_min: float, duration_s: float) -> SpeedProfile:
    """One speed throughout."""
    return SpeedProfile((0.0, duration_s), (speed_m_min, speed_m_min))


def ramps(
    fast_m_min: float, slow_m_min: float, *, hold_s: float, ramp_s: float, times: int
) -> SpeedProfile:
    """Hold fast, then down, hold slow, up, hold fast, as many times as asked."""
    clock, points = 0.0, [(0.0, fast_m_min)]
    for speed in (fast_m_min, *((slow_m_min, fast_m_min) * times)):
        if speed != points[-1][1]:
            clock += ramp_s
            points.append((clock, speed))
        clock += hold_s
        points.append((clock, speed))
    at, speeds = zip(*points, strict=True)
    return SpeedProfile(at, speeds)
