"""Speed profiles with known corners, noisy logs of them, and frames taken on them."""

from dataclasses import dataclass

import numpy as np

from regscan.offsets.columns import OFFSET_COLUMNS
from regscan.offsets.table import table_of
from regscan.recording.speedlog import SpeedLog


@dataclass(frozen=True)
class Profile:
    """Speed that runs straight from corner to corner."""

    time_s: tuple[float, ...]
    speed_m_min: tuple[float, ...]

    def speed(self, t):
        return np.interp(t, self.time_s, self.speed_m_min)

    def web(self, t):
        """Exact integral: trapezoids between the corners and the time asked for."""
        t = np.atleast_1d(t)
        corners = np.array(self.time_s)
        speeds = np.array(self.speed_m_min)
        whole = np.concatenate(
            ([0.0], np.cumsum((speeds[1:] + speeds[:-1]) / 2 * np.diff(corners) / 60))
        )
        k = np.clip(np.searchsorted(corners, t, side="right") - 1, 0, len(corners) - 2)
        return whole[k] + (speeds[k] + self.speed(t)) / 2 * (t - corners[k]) / 60

    def frames_every_m(self, pitch_m):
        """Times of frames triggered by the web."""
        fine = np.linspace(0.0, self.time_s[-1], 20001)
        web = self.web(fine)
        return np.interp(np.arange(0.0, web[-1], pitch_m), web, fine)


# Down and up: 120 -> 20 -> 120 m/min, a hundred m/min in twenty seconds (trade.md 3.2).
DOWN_UP = Profile((0, 120, 140, 260, 280, 400), (120, 120, 20, 20, 120, 120))
CORNERS_S = np.array([120.0, 140.0, 260.0, 280.0])
PHASES = ["hold", "slowing down", "hold", "speeding up", "hold"]


def noisy_log(profile, seed, *, noise=1.0, spikes=0.01, lost=0.1, pitch_s=1.0):
    rng = np.random.default_rng(seed)
    t = np.arange(0.0, profile.time_s[-1] + pitch_s / 2, pitch_s)
    v = profile.speed(t) + rng.normal(0, noise, len(t))
    v = v + 60.0 * (rng.random(len(t)) < spikes)
    kept = rng.random(len(t)) >= lost
    return SpeedLog.of(t[kept], np.maximum(v[kept], 0.0))


def frame_table(time_s, web_m=None, speed_m_min=None, **more):
    """One row per frame of one colour; what is not given is unknown."""
    nothing = [None] * len(time_s)
    rows = [
        {
            "frame": f"{k:05d}.png",
            "time_s": t,
            "web_m": m,
            "speed_m_min": v,
            "ink": "cyan",
            "station": 2,
            "status": "ok",
            "circumferential_mm": 0.0,
            "lateral_mm": 0.0,
            **more,
        }
        for k, (t, m, v) in enumerate(
            zip(
                time_s,
                nothing if web_m is None else web_m,
                nothing if speed_m_min is None else speed_m_min,
                strict=True,
            )
        )
    ]
    return table_of(rows, OFFSET_COLUMNS)
