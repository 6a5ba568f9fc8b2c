"""When will a colour leave tolerance? Several models of its movement, weighed by how they did.

Each model lets the slope change by so much per metre: one goes straight on for good, the others
forget over 300, 100, 30 and 10 frames. The chance that the print is out within so many metres
is that of each model, weighed by how well it foresaw the newest frames.
"""

import math

import numpy as np

from regscan.drift.monitor.filter import Filter, Noise

MEMORIES = (math.inf, 300.0, 100.0, 30.0, 10.0)  # frames
FORGETS = 0.98  # of a model's record, frame by frame
PLACES = 48  # at which the chance of being out is worked out


class Outlook:
    """Level and slope of every channel, and what they foretell.

    pitch      steps (metres, or frames) between frames; slope_sd: before anything is seen.
    """

    def __init__(self, noise: Noise, pitch: float, slope_sd: np.ndarray) -> None:
        memory = np.array(MEMORIES)[:, None]
        bend = noise.sd**2 / (memory**4 * pitch**3)
        self.filter = Filter(noise, bend, slope_sd)
        self.record = np.zeros(self.filter.level.shape)
        self.seen: np.ndarray = np.zeros(self.record.shape[1], dtype=int)

    def restart(self, channels: np.ndarray) -> None:
        """Forget what was seen, in the channels that are True."""
        self.filter.restart(channels)
        self.record[:, channels] = 0.0
        self.seen[channels] = 0

    def feed(self, steps: float, samples: np.ndarray) -> None:
        """Take one sample per channel (NaN: none), so many steps after the one before."""
        surprise, variance = self.filter.feed(steps, samples)
        told = np.isfinite(surprise) & (self.seen > 1)
        with np.errstate(invalid="ignore"):
            gain = -0.5 * (surprise**2 / variance + np.log(variance))
        self.record = np.where(told, FORGETS * self.record + gain, self.record)
        self.seen = self.seen + np.isfinite(surprise[0])

    @property
    def weights(self) -> np.ndarray:
        """How much each model is believed; models x channels, each channel adds up to one."""
        best = np.exp(self.record - self.record.max(axis=0))
        result: np.ndarray = best / best.sum(axis=0)
        return result

    def state(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """(level, its sd, slope) of every channel, over all models."""
        weights, own = self.weights, self.filter
        level = (weights * own.level).sum(axis=0)
        spread = (weights * (own.ll + (own.level - level) ** 2)).sum(axis=0)
        return level, np.sqrt(np.maximum(spread, 0.0)), (weights * own.slope).sum(axis=0)

    def chance_out(self, ahead: np.ndarray, limit: np.ndarray) -> np.ndarray:
        """Chance that the level is beyond the limit it heads for; channels x places ahead."""
        from scipy.special import ndtr

        own, weights = self.filter, self.weights
        side = np.where((weights * own.slope).sum(axis=0) >= 0.0, 1.0, -1.0)
        x = ahead[None, None, :]
        level, slope = (side * own.level)[:, :, None], (side * own.slope)[:, :, None]
        variance = own.ll[:, :, None] + 2.0 * x * own.ls[:, :, None] + x**2 * own.ss[:, :, None]
        variance = variance + own.bend[:, :, None] * x**3 / 3.0
        beyond = (level + slope * x - limit[None, :, None]) / np.sqrt(np.maximum(variance, 1e-18))
        result: np.ndarray = (weights[:, :, None] * ndtr(beyond)).sum(axis=0)
        return result


def when(chance: np.ndarray, ahead: np.ndarray, share: float) -> float | None:
    """Where along `ahead` the chance first reaches `share`; None where it never does."""
    reached = np.flatnonzero(chance >= share)
    if not len(reached):
        return None
    k = int(reached[0])
    if k == 0:
        return float(ahead[0])
    part = (share - chance[k - 1]) / max(chance[k] - chance[k - 1], 1e-12)
    return float(ahead[k - 1] + part * (ahead[k] - ahead[k - 1]))
