"""The charts of all channels, on what a steady print's own noise does not foresee.

Neighbouring frames wander together, and charts made for independent frames would cry wolf. So
each frame is foreseen from those before it, and what was not foreseen, in units of what
it usually is, goes into the charts: independent from frame to frame as long as the print is calm.
"""

from collections import deque

import numpy as np

from regscan.drift.monitor.charts import Cusum, Ewma
from regscan.drift.monitor.filter import CLIP_SD, Filter, Noise
from regscan.drift.monitor.record import MonitorRules
from regscan.drift.monitor.run_lengths import cusum_limit_for, ewma_width_for

CHARTS = 2
SLACK_STEP, LEAST_STEPS = 0.05, 4  # so that few limits have to be worked out
LOOKED_BACK = 300  # frames in which the place of a shift is looked for
EARLIEST = 8  # frames of a hold from which its level is told before the charts count


class Shifts:
    """Both charts, the level each hold is held against, and since when it moves."""

    def __init__(
        self, noise: Noise, freedom: np.ndarray, rules: MonitorRules, pitch: float
    ) -> None:
        count = noise.white.shape[1]
        self.rules, self.pitch = rules, pitch
        calm = rules.calm_frames * CHARTS * count
        self.filter = Filter(noise, np.zeros((1, count)), np.zeros((1, count)))
        self.ewma = Ewma(count, rules.ewma_weight, ewma_width_for(rules.ewma_weight, calm))
        self.cusum = Cusum(count, *self._made_for(noise))
        self.freedom = freedom
        self.seen = np.zeros(count, dtype=int)
        self.runs = {1: _Since(count), -1: _Since(count)}
        self.newest: deque[tuple[float, np.ndarray]] = deque(maxlen=LOOKED_BACK)

    def learn(self, noise: Noise, freedom: np.ndarray) -> None:
        """From now on with this noise; what was seen is kept."""
        self.filter.learn(noise, np.zeros((1, 1)))
        self.freedom = freedom
        slack, limit = self._made_for(noise)
        self.clear(slack != self.cusum.slack)  # sums of one slack say nothing to another's limit
        self.cusum.slack, self.cusum.limit = slack, limit

    def _made_for(self, noise: Noise) -> tuple[np.ndarray, np.ndarray]:
        """(slack, limit) of the cusum: half of what a wandering print leaves of the shift."""
        calm = self.rules.calm_frames * CHARTS * noise.white.shape[1]
        wished = self.rules.cusum_slack_sd * noise.kept_of_a_shift(self.pitch)[0]
        steps = np.round(np.nan_to_num(wished, nan=self.rules.cusum_slack_sd) / SLACK_STEP)
        slack = SLACK_STEP * np.maximum(steps, LEAST_STEPS)
        limit = np.array([cusum_limit_for(float(one), calm) for one in slack])
        return slack, limit

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
            self.runs[sign].feed(at, before, sums)
        self.newest.append((at, samples))
        return ewma, cusum

    def clear(self, channels: np.ndarray) -> None:
        """Take the charts back to zero, the level as it is, in the channels that are True."""
        self.ewma.restart(channels)
        self.cusum.restart(channels)
        for run in self.runs.values():
            run.restart(channels)

    def moved(self, channel: int) -> tuple[float, float, float]:
        """(level now, level before, where it changed) of a channel whose chart signals.

        Where: of all places since the cusum left zero, the one that parts the frames best.
        """
        late = self.cusum.high[channel] >= self.cusum.low[channel]
        run = self.runs[1 if late else -1]
        before = float(run.before[channel])
        seen = [(at, float(values[channel])) for at, values in self.newest if at >= run.at[channel]]
        places = np.array([at for at, value in seen if np.isfinite(value)])
        off = np.array([value for _, value in seen if np.isfinite(value)]) - before
        if not len(off):
            return before, before, float(run.at[channel])
        sums, counts = np.cumsum(off[::-1])[::-1], np.arange(len(off), 0, -1)
        k = int(np.argmax(sums**2 / counts))
        return before + float(np.median(off[k:])), before, float(places[k])


class _Since:
    """Where a cusum last left zero, and the level before."""

    def __init__(self, channels: int) -> None:
        self.at, self.before = np.full(channels, np.nan), np.full(channels, np.nan)

    def restart(self, channels: np.ndarray) -> None:
        """Forget, in the channels that are True."""
        self.at[channels] = self.before[channels] = np.nan

    def feed(self, at: float, before: np.ndarray, sums: np.ndarray) -> None:
        """Follow a sum after a frame; before: the levels without it."""
        first = (sums > 0.0) & np.isnan(self.at)
        self.at, self.before = np.where(first, at, self.at), np.where(first, before, self.before)
        self.restart(sums <= 0.0)


def normal_of(ratio: np.ndarray, freedom: np.ndarray) -> np.ndarray:
    """Student's t as the normal value of the same probability, nearly (Wallace 1959).

    Noise told from few frames makes large ratios likelier; this takes it into account.
    """
    part = (8.0 * freedom + 1.0) / (8.0 * freedom + 3.0)
    result: np.ndarray = np.sign(ratio) * part * np.sqrt(freedom * np.log1p(ratio**2 / freedom))
    return result
