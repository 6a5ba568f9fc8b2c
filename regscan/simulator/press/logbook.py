"""The speed log as a press writes it: noisy, with gaps, on a clock of its own."""

from dataclasses import dataclass

import numpy as np

from regscan.recording.speedlog import SpeedLog
from regscan.simulator.speed import SpeedProfile

# The log runs a little longer than the frames, as it does where nobody starts both at once.
LEAD_S = 20.0


@dataclass(frozen=True, slots=True)
class LogFlaws:
    """What is wrong with a log.

    pitch_s       seconds between rows; noise_m_min   sd of one reading.
    gaps          (start_s, end_s) without rows, on the clock of the press.
    shift_s       the log's clock shows this much more than the clock of the frames.
    """

    pitch_s: float = 1.0
    noise_m_min: float = 0.2
    gaps: tuple[tuple[float, float], ...] = ()
    shift_s: float = 0.0


def speed_log_of(profile: SpeedProfile, flaws: LogFlaws, rng: np.random.Generator) -> SpeedLog:
    """The log of a run."""
    time = np.arange(-LEAD_S, profile.duration_s + LEAD_S, flaws.pitch_s)
    read = profile.speed_at(time) + flaws.noise_m_min * rng.standard_normal(time.size)
    kept = np.ones(time.size, dtype=bool)
    for start, end in flaws.gaps:
        kept &= (time <= start) | (time >= end)
    shown = time[kept] + flaws.shift_s
    return SpeedLog.of(np.round(shown, 3), np.round(np.maximum(read[kept], 0.0), 2))


def log_csv(log: SpeedLog) -> str:
    """time_s,speed_m_min as text."""
    rows = zip(log.time_s.tolist(), log.speed_m_min.tolist(), strict=True)
    return "\n".join(["time_s,speed_m_min", *(f"{t:.3f},{v:.2f}" for t, v in rows)]) + "\n"
