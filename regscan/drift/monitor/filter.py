"""Kalman's filter of a print that may move while it scatters and wanders.

state        level mm, slope mm per step of web, and wander mm: what comes and goes by itself
observation  level + wander + white noise

All arrays are models x channels: several models of how fast a slope may change, each colour and
axis a channel. A step is a metre of web, or a frame where no metres are known.
"""

from dataclasses import dataclass

import numpy as np

NEVER = np.full((1, 1), np.inf)
CLIP_SD = 3.5  # a sample that stands off further pulls no harder: a lost mark is no movement
SETTLED = 60  # frames after which the filter of a steady print changes no more
UNKNOWN = 1e4  # sd of a level before its first frame, in mm or whatever the noise is given in


@dataclass(frozen=True, slots=True)
class Noise:
    """Noise of a steady print; arrays that fit models x channels.

    white    standard deviation of what is new in every frame.
    wander   standard deviation of what has a memory; memory: steps in which it falls to 1/e.
    """

    white: np.ndarray
    wander: np.ndarray
    memory: np.ndarray

    @property
    def sd(self) -> np.ndarray:
        """Standard deviation of single frames."""
        return np.hypot(self.white, self.wander)

    def kept_of_a_shift(self, steps: float) -> np.ndarray:
        """What is left of a lasting shift once it is taken for wander, frame by frame.

        In standard deviations of what is not foreseen, per standard deviation of single
        frames; 1 where nothing wanders. steps   between frames.
        """
        memory = np.exp(-steps / self.memory)
        state = np.zeros_like(memory)
        for _ in range(SETTLED):
            spread = memory**2 * state + (1.0 - memory**2) * self.wander**2
            gain = spread / (spread + self.white**2)
            state = (1.0 - gain) * spread
        left = (1.0 - memory) / (1.0 - memory * (1.0 - gain))
        result: np.ndarray = left * self.sd / np.sqrt(spread + self.white**2)
        return result


class Filter:
    """One filter per model and channel, fed sample by sample.

    bend_rate   variance by which a slope changes per step (its square per step).
    slope_sd    of a slope before anything is seen.
    fades       steps in which a slope falls to 1/e, as that of what warms up does.
    """

    def __init__(
        self, noise: Noise, bend_rate: np.ndarray, slope_sd: np.ndarray, fades: np.ndarray = NEVER
    ) -> None:
        self.fades = fades
        self.learn(noise, bend_rate)
        shape = self.white2.shape
        self.slope2 = np.broadcast_to(slope_sd, shape) ** 2
        zero = np.zeros(shape)
        self.level, self.slope, self.wander = zero.copy(), zero.copy(), zero.copy()
        # Covariance of level (l), slope (s) and wander (w).
        self.ll, self.ss, self.ww = zero.copy(), zero.copy(), zero.copy()
        self.ls, self.lw, self.sw = zero.copy(), zero.copy(), zero.copy()
        self.restart(np.ones(shape[1], dtype=bool))

    def learn(self, noise: Noise, bend_rate: np.ndarray) -> None:
        """From now on with this noise; what was seen is kept."""
        white, wander, memory, bend = np.broadcast_arrays(
            noise.white, noise.wander, noise.memory, bend_rate
        )
        self.white2, self.wander2 = white**2, wander**2
        self.memory, self.bend = memory.astype(float), bend.astype(float)

    def restart(self, channels: np.ndarray) -> None:
        """Forget all that was seen, in the channels that are True."""
        for part in (self.level, self.slope, self.wander, self.ls, self.lw, self.sw):
            part[:, channels] = 0.0
        self.ll[:, channels] = UNKNOWN**2
        self.ss[:, channels] = self.slope2[:, channels]
        self.ww[:, channels] = self.wander2[:, channels]

    def new_level(self, channels: np.ndarray) -> None:
        """The print lies elsewhere now, yet may go on moving as it did."""
        for part in (self.ls, self.lw):
            part[:, channels] = 0.0
        self.ll[:, channels] = UNKNOWN**2

    def feed(self, steps: float, samples: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Go on by so many steps and take one sample per channel (NaN: none).

        Returns (what was not foreseen, its variance), models x channels.
        """
        self.go_on(steps)
        missing = ~np.isfinite(samples)
        surprise = np.where(missing, 0.0, samples) - self.level - self.wander
        variance = self.ll + 2.0 * self.lw + self.ww + self.white2
        inverse = np.where(missing, 0.0, 1.0 / variance)
        to_level, to_slope, to_wander = self.ll + self.lw, self.ls + self.sw, self.lw + self.ww
        reach = CLIP_SD * np.sqrt(variance)
        pull = np.clip(surprise, -reach, reach) * inverse
        self.level = self.level + to_level * pull
        self.slope = self.slope + to_slope * pull
        self.wander = self.wander + to_wander * pull
        for name, one, other in (
            ("ll", to_level, to_level),
            ("ls", to_level, to_slope),
            ("lw", to_level, to_wander),
            ("ss", to_slope, to_slope),
            ("sw", to_slope, to_wander),
            ("ww", to_wander, to_wander),
        ):
            setattr(self, name, getattr(self, name) - one * other * inverse)
        return np.where(missing, np.nan, surprise), variance

    def reach(self, steps: np.ndarray | float) -> np.ndarray:
        """How many steps' worth of its slope a level goes on within so many steps."""
        with np.errstate(invalid="ignore"):
            fading = -self.fades * np.expm1(-steps / self.fades)
        result: np.ndarray = np.where(np.isinf(self.fades), steps, fading)
        return result

    def go_on(self, steps: float) -> None:
        """So many steps without a sample."""
        kept, left = np.exp(-steps / self.memory), np.exp(-steps / self.fades)
        far = self.reach(steps)
        self.level = self.level + far * self.slope
        self.slope = left * self.slope
        self.wander = kept * self.wander
        bend = self.bend * steps
        self.ll = self.ll + far * (2.0 * self.ls + far * self.ss) + bend * steps**2 / 3.0
        self.ls = left * (self.ls + far * self.ss) + bend * steps / 2.0
        self.lw = kept * (self.lw + far * self.sw)
        self.ss = left**2 * self.ss + bend
        self.sw = left * kept * self.sw
        self.ww = kept**2 * self.ww + (1.0 - kept**2) * self.wander2
