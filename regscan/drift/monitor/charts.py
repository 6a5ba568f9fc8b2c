"""The EWMA and the cusum chart, sample by sample, for any number of channels at once.

As in the NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4 and 6.3.2.3.
"""

import math

import numpy as np


class Ewma:
    """Exponentially weighted mean of samples about a target, against fixed limits.

    target, sd   of single samples; width: limits lie that many lasting standard deviations of
                 the mean away, sd * sqrt(weight / (2 - weight)).
    """

    def __init__(
        self, channels: int, weight: float, width: float, target: float = 0.0, sd: float = 1.0
    ) -> None:
        self.weight, self.target = weight, target
        self.limit = width * sd * math.sqrt(weight / (2.0 - weight))
        self.value = np.full(channels, target)

    def feed(self, samples: np.ndarray) -> np.ndarray:
        """Take one sample per channel (NaN: none); True where the mean is beyond a limit."""
        moved = (1.0 - self.weight) * self.value + self.weight * samples
        self.value = np.where(np.isfinite(samples), moved, self.value)
        result: np.ndarray = np.abs(self.value - self.target) > self.limit
        return result

    def restart(self, channels: np.ndarray) -> None:
        """Back to the target, in the channels that are True."""
        self.value[channels] = self.target


class Cusum:
    """Two sums per channel: of what lies above target plus slack, and below target minus slack.

    slack, limit   in the samples' unit, one for all channels or one each. Each sum starts from
                   zero and never falls below it.
    """

    def __init__(
        self,
        channels: int,
        slack: np.ndarray | float,
        limit: np.ndarray | float,
        target: float = 0.0,
    ) -> None:
        self.slack, self.target = np.full(channels, slack), target
        self.limit = np.full(channels, limit)
        self.high, self.low = np.zeros(channels), np.zeros(channels)

    def feed(self, samples: np.ndarray) -> np.ndarray:
        """Take one sample per channel (NaN: none); True where a sum is beyond the limit."""
        off = np.where(np.isfinite(samples), samples - self.target, np.nan)
        high = np.maximum(self.high + off - self.slack, 0.0)
        low = np.maximum(self.low - off - self.slack, 0.0)
        self.high = np.where(np.isfinite(off), high, self.high)
        self.low = np.where(np.isfinite(off), low, self.low)
        return (self.high > self.limit) | (self.low > self.limit)

    def restart(self, channels: np.ndarray) -> None:
        """Both sums back to zero, in the channels that are True."""
        self.high[channels] = 0.0
        self.low[channels] = 0.0
