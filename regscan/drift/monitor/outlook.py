"""When will a colour leave tolerance? Several models of its movement, weighed by how they did.

One model goes straight on for good. Some let the slope fade, as what warms up does; some let it
change by chance, more or less. The chance that the print is out within so many metres is that
of each model, weighed by how well it foresaw the newest frames.
"""

import math

import numpy as np

from regscan.drift.monitor.filter import Filter, Noise

# (frames from which the slope is told, frames in which it fades); inf: all frames, never.
MODELS = (
    (math.inf, math.inf),
    (math.inf, 1000.0),
    (math.inf, 300.0),
    (math.inf, 100.0),
    (math.inf, 30.0),
    (300.0, math.inf),
    (100.0, math.inf),
    (30.0, math.inf),
)
FORGETS = 0.99  # of a model's record, frame by frame
PLACES = 48  # at which the chance of being out is worked out


class Outlook:
    """Level and slope of every channel, and what they foretell.

    pitch      steps (metres, or frames) between frames; slope_sd: before anything is seen.
    """

    def __init__(self, noise: Noise, pitch: float, slope_sd: np.ndarray) -> None:
        self.pitch = pitch
        fades = pitch * np.array([fading for _, fading in MODELS])[:, None]
        self.filter = Filter(noise, self._bend_rate(noise), slope_sd, fades)
        self.record = np.zeros(self.filter.level.shape)
        self.seen: np.ndarray = np.zeros_like(self.record[0], dtype=int)

    def _bend_rate(self, noise: Noise) -> np.ndarray:
        """With which a straight line is told from about so many frames; models x channels."""
        memory = np.array([told for told, _ in MODELS])[:, None]
        result: np.ndarray = noise.sd**2 / (memory**4 * self.pitch**3)
        return result

    def learn(self, noise: Noise) -> None:
        """From now on with this noise; what was seen is kept."""
        self.filter.learn(noise, self._bend_rate(noise))

    def restart(self, channels: np.ndarray) -> None:
        """Forget what was seen, in the channels that are True."""
        self.filter.restart(channels)
        self.record[:, channels] = 0.0
        self.seen[channels] = 0

    def new_level(self, channels: np.ndarray) -> None:
        """The print lies elsewhere now, yet may go on moving as it did."""
        self.filter.new_level(channels)
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

    def chance_out(self, ahead: np.ndarray, limit: np.ndarray, channels: np.ndarray) -> np.ndarray:
        """Chance that a level is beyond the limit it heads for; chosen channels x places ahead.

        limit   of the chosen channels, whose numbers are `channels`.
        """
        from scipy.special import ndtr

        own, weights = self.filter, self.weights[:, channels]
        slope = own.slope[:, channels]
        side = np.where((weights * slope).sum(axis=0) >= 0.0, 1.0, -1.0)
        far = own.reach(ahead)[:, None, :]
        reach = (side * own.level[:, channels])[:, :, None] + (side * slope)[:, :, None] * far
        beyond = (reach - limit[:, None]) / self._spread(ahead, far, channels)
        result: np.ndarray = (weights[:, :, None] * ndtr(beyond)).sum(axis=0)
        return result

    def _spread(self, ahead: np.ndarray, far: np.ndarray, channels: np.ndarray) -> np.ndarray:
        """Standard deviation of the level so far ahead; models x channels x places."""
        own = self.filter
        ll, ls, ss, bend = (part[:, channels, None] for part in (own.ll, own.ls, own.ss, own.bend))
        variance = ll + far * (2.0 * ls + far * ss) + bend * ahead**3 / 3.0
        result: np.ndarray = np.sqrt(np.maximum(variance, 1e-18))
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
