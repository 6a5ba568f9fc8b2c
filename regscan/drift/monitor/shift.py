"""The charts of all channels, on what a steady print's own noise does not foresee.

Neighbouring frames wander together, and charts made for independent frames would cry wolf. So
each frame is foreseen from those before it, and what was not foreseen, in units of what
it usually is, goes into the charts: independent from frame to frame as long as the print is calm.
"""

import numpy as np

from regscan.drift.monitor.charts import Cusum, Ewma
from regscan.drift.monitor.filter import Filter, Noise
from regscan.drift.monitor.record import MonitorRules
from regscan.drift.monitor.run_lengths import cusum_limit_for, ewma_width_for

CHARTS = 2
CLIP_SD = 3.5  # one frame that stands off pulls no harder: a lost mark is no shift
EARLIEST = 8  # frames of a hold from which its level is told before the charts count


class Shifts:
    """Both charts, the level each hold is held against, and since when it moves."""

    def __init__(self, noise: Noise, freedom: np.ndarray, rules: MonitorRules) -> None:
        count = noise.white.shape[1]
        calm = rules.calm_frames * CHARTS * count
        self.filter = Filter(noise, np.zeros((1, count)), np.zeros((1, count)))
        self.ewma = Ewma(count, rules.ewma_weight, ewma_width_for(rules.ewma_weight, calm))
        slack = rules.cusum_slack_sd
        self.cusum = Cusum(count, slack, cusum_limit_for(slack, calm))
        self.freedom = freedom
        self.seen = np.zeros(count, dtype=int)
        self.runs = {1: _Since(count), -1: _Since(count)}

    def learn(self, noise: Noise, freedom: np.ndarray) -> None:
        """From now on with this noise; what was seen is kept."""
        self.filter.learn(noise, np.zeros((1, 1)))
        self.freedom = freedom

    def restart(self, channels: np.ndarray) -> None:
        """A new hold, or a new level after a shift, in the channels that are True."""
        self.filter.restart(channels)
        self.clear(channels)
        self.seen[channels] = 0

    def feed(self, at: float, steps: float, samples: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Take one sample per channel (NaN: none). Returns (ewma signals, cusum signals)."""
        before = self.filter.level[0].copy()
        surprise, variance = self.filter.feed(steps, samples)
        self.seen += np.isfinite(samples)
        ratio = surprise[0] / np.sqrt(variance[0])
        unusual = np.clip(normal_of(ratio, self.freedom), -CLIP_SD, CLIP_SD)
        unusual = np.where(self.seen > EARLIEST, unusual, np.nan)
        ewma, cusum = self.ewma.feed(unusual), self.cusum.feed(unusual)
        for sign, sums in ((1, self.cusum.high), (-1, self.cusum.low)):
            self.runs[sign].feed(at, samples, before, sums)
        return ewma, cusum

    def clear(self, channels: np.ndarray) -> None:
        """Take the charts back to zero, the level as it is, in the channels that are True."""
        self.ewma.restart(channels)
        self.cusum.restart(channels)
        for run in self.runs.values():
            run.restart(channels)

    def leans_late(self, channel: int) -> bool:
        """Which way the charts lean: True toward +."""
        return bool(self.cusum.high[channel] >= self.cusum.low[channel])


class _Since:
    """Where a cusum last left zero, the level before, and the frames since."""

    def __init__(self, channels: int) -> None:
        self.at, self.before = np.full(channels, np.nan), np.full(channels, np.nan)
        self.sum, self.count = np.zeros(channels), np.zeros(channels)

    def restart(self, channels: np.ndarray) -> None:
        """Forget, in the channels that are True."""
        self.at[channels] = self.before[channels] = np.nan
        self.sum[channels] = self.count[channels] = 0.0

    def feed(self, at: float, samples: np.ndarray, before: np.ndarray, sums: np.ndarray) -> None:
        """Follow a sum after it took the samples; before: the levels without these."""
        up = (sums > 0.0) & np.isfinite(samples)
        first = up & (self.count == 0)
        self.at, self.before = np.where(first, at, self.at), np.where(first, before, self.before)
        self.sum = np.where(up, self.sum + np.where(up, samples, 0.0), self.sum)
        self.count = np.where(up, self.count + 1, self.count)
        self.restart(sums <= 0.0)

    def now(self, channel: int) -> tuple[float, float, float]:
        """(level since then, level before, where it began) of one channel."""
        mean = self.sum[channel] / max(self.count[channel], 1.0)
        return float(mean), float(self.before[channel]), float(self.at[channel])


def normal_of(ratio: np.ndarray, freedom: np.ndarray) -> np.ndarray:
    """Student's t as the normal value of the same probability, nearly (Wallace 1959).

    Noise told from few frames makes large ratios likelier; this takes it into account.
    """
    part = (8.0 * freedom + 1.0) / (8.0 * freedom + 3.0)
    result: np.ndarray = np.sign(ratio) * part * np.sqrt(freedom * np.log1p(ratio**2 / freedom))
    return result
