"""The noise of a steady print, told from the run itself: how much, and how it wanders.

By maximum likelihood over a grid of memories and shares; the level and a straight drift of each
stretch are left open, so that neither counts as noise. The form of the noise is common
to all colours of one axis, its size is each colour's own.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regscan.drift.monitor.filter import Filter, Noise

MEMORIES = (0.8, 1.5, 3.0, 5.0, 8.0, 13.0, 20.0, 30.0)  # frames
SHARES = (0.08, 0.16, 0.24, 0.32, 0.4, 0.5, 0.6, 0.72, 0.85, 0.97)  # of the variance
FEWEST = 8
TRUSTED = 0.2  # of a stretch's frames at most may one memory last
OUTLYING = 6.0
FLOOR_MM = 1e-4  # no press is calmer; rounded values repeat and seem to be
OPEN = 2  # first samples of a stretch, which its level and drift use up


@dataclass(frozen=True)
class Steady:
    """Frames while the speed held and the print had settled.

    at       steps (metres or frames) of every frame, rising.
    values   frames x channels, mm; NaN where there is none.
    """

    at: np.ndarray
    values: np.ndarray


@dataclass(frozen=True, slots=True)
class Learnt:
    """noise of every channel (arrays 1 x channels), and how many frames told it (channels)."""

    noise: Noise
    frames: np.ndarray


def learn_noise(stretches: Sequence[Steady], axis: np.ndarray) -> Learnt:
    """The noise of every channel; NaN where fewer than FEWEST frames tell it.

    axis   0 or 1 for every channel: those of one axis share the form.
    """
    pitch = _pitch(stretches)
    longest = max(len(one.at) for one in stretches)
    memories = [0.8, *(m for m in MEMORIES[1:] if m <= TRUSTED * longest)]
    grid = [(1.0, 0.0)] + [(memory, share) for memory in memories for share in SHARES]
    memory, share = (np.array(column)[:, None] for column in zip(*grid, strict=True))
    unit = Noise(np.sqrt(1.0 - share), np.sqrt(share), memory * pitch)
    sums = _Sums.over(stretches, unit)
    with np.errstate(invalid="ignore", divide="ignore"):
        variance = sums.squares / sums.count
        likelihood = -0.5 * (sums.count * np.log(variance) + sums.logs)
    told = sums.count[0] >= FEWEST
    best = np.zeros(len(axis), dtype=int)
    for one in (0, 1):
        mine = (axis == one) & told
        if mine.any():
            best[axis == one] = int(np.argmax(likelihood[:, mine].sum(axis=1)))
    channel = np.arange(len(axis))
    # A standard error more: limits that are too near cry wolf, those too far wait a little.
    margin = 1.0 + 1.0 / np.sqrt(2.0 * np.maximum(sums.count[0], 1.0))
    sd = margin * np.sqrt(variance[best, channel])
    sd = np.where(told, np.maximum(sd, FLOOR_MM), np.nan)
    white, wander = sd * unit.white[best, 0], sd * unit.wander[best, 0]
    noise = Noise(white[None], wander[None], unit.memory[best, 0][None])
    return Learnt(noise, sums.count[0])


def _pitch(stretches: Sequence[Steady]) -> float:
    steps = np.concatenate([np.diff(one.at) for one in stretches])
    return float(np.median(steps[steps > 0])) if (steps > 0).any() else 1.0


@dataclass
class _Sums:
    """Of squared surprises over their variance, of the logarithms of these; models x channels."""

    squares: np.ndarray
    logs: np.ndarray
    count: np.ndarray

    @classmethod
    def over(cls, stretches: Sequence[Steady], unit: Noise) -> "_Sums":
        """Run every model along every stretch; noise of one mm stands for any."""
        shape = unit.white.shape[0], stretches[0].values.shape[1]
        sums = cls(np.zeros(shape), np.zeros(shape), np.zeros(shape))
        bend, slope = np.zeros((1, shape[1])), np.full((1, shape[1]), 1e3)
        for stretch in stretches:
            values = _without_outliers(stretch.values)
            model = Filter(unit, bend, slope)
            seen = np.cumsum(np.isfinite(values), axis=0)
            for k, step in enumerate(np.diff(stretch.at, prepend=stretch.at[:1])):
                surprise, variance = model.feed(float(step), values[k])
                told = np.isfinite(surprise) & (seen[k] > OPEN)
                sums.squares += np.where(told, surprise**2 / variance, 0.0)
                sums.logs += np.where(told, np.log(variance), 0.0)
                sums.count += told
        return sums


def _without_outliers(values: np.ndarray) -> np.ndarray:
    """Single frames that stand off from the others of the stretch are not its noise."""
    if not len(values):
        return values
    with np.errstate(invalid="ignore"):
        kept = np.where(np.isfinite(values).any(axis=0), values, 0.0)
        middle = np.nanmedian(kept, axis=0)
        spread = 1.4826 * np.nanmedian(np.abs(kept - middle), axis=0)
        off = np.abs(values - middle) > OUTLYING * np.where(spread > 0, spread, np.inf)
    return np.where(off, np.nan, values - middle)
