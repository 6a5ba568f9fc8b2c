"""Early warnings: which channels head out of tolerance, when, and whether that was said already."""

from typing import Literal

import numpy as np

from regscan.drift.alert import Forecast
from regscan.drift.monitor.filter import Noise
from regscan.drift.monitor.outlook import PLACES, Outlook, when
from regscan.drift.monitor.record import MonitorRules

HORIZON_FRAMES = 100.0  # where no metres are known
PERSISTS = 3  # frames in a row that must foretell the same
SETTLED_FRAMES = 12  # of a hold or ramp, before anything is foretold
CALMED = 0.5  # a chance of leaving below which a warning is over
MODEST = 0.4  # share of each tail that is left out: prints move in more ways than the models know
LIKELY_SLOPES = 3.0  # horizons in which a colour may be thought to cross its tolerance


class Warner:
    """Foretells for every channel of a view.

    metres   whether steps are metres of web, else frames; pitch   steps between frames.
    """

    def __init__(
        self,
        noise: Noise,
        tolerance_mm: np.ndarray,
        rules: MonitorRules,
        step: tuple[bool, float],
    ) -> None:
        self.metres, pitch = step
        self.rules, self.limit = rules, tolerance_mm
        self.horizon = rules.horizon_m if self.metres else HORIZON_FRAMES
        slope_sd = LIKELY_SLOPES * tolerance_mm / self.horizon
        self.outlook = Outlook(noise, pitch, slope_sd[None])
        near = min(pitch, self.horizon / 4.0) / 4.0
        self.ahead = np.append(np.geomspace(near, self.horizon, PLACES), 4.0 * self.horizon)
        self.persisted = np.zeros(len(tolerance_mm), dtype=int)
        self.warned = np.zeros(len(tolerance_mm), dtype=bool)
        self.forecasts: list[Forecast | None] = [None] * len(tolerance_mm)

    def restart(self, channels: np.ndarray) -> None:
        """A new hold, ramp or level, in the channels that are True."""
        self.outlook.restart(channels)
        self.persisted[channels] = 0
        self.warned[channels] = False

    def new_level(self, channels: np.ndarray) -> None:
        """The print lies elsewhere now, yet may go on moving as it did."""
        self.outlook.new_level(channels)
        self.persisted[channels] = 0
        self.warned[channels] = False
        self.forecasts = [None] * len(self.limit)

    def pass_by(self, steps: float) -> None:
        """Frames of which nothing is to be learnt."""
        self.outlook.filter.go_on(steps)

    def learn(self, noise: Noise) -> None:
        """From now on with this noise; what was seen is kept."""
        self.outlook.learn(noise)

    def feed(self, steps: float, samples: np.ndarray) -> list[tuple[int, Forecast]]:
        """Take one sample per channel; the warnings that are due now."""
        self.outlook.feed(steps, samples)
        by_then = self._look_ahead()
        foreseen = np.array([f is not None for f in self.forecasts], dtype=bool)
        sure = (by_then >= self.rules.sure) & foreseen
        self.warned &= by_then >= CALMED
        self.persisted = np.where(sure, self.persisted + np.isfinite(samples), 0)
        due = (self.persisted >= PERSISTS) & ~self.warned
        self.warned |= due
        return [(int(k), f) for k in np.flatnonzero(due) if (f := self.forecasts[int(k)])]

    def _look_ahead(self) -> np.ndarray:
        """Chance of every channel to be out within the horizon; 0 for those that are out."""
        level, _, slope = self.outlook.state()
        heads_for = np.sign(slope) * level + np.abs(slope) * self.horizon
        near = (np.abs(level) < self.limit) & (heads_for > 0.9 * self.limit)
        channels = np.flatnonzero(near & (self.outlook.seen >= SETTLED_FRAMES))
        by_then = np.zeros(len(level))
        self.forecasts = [None] * len(level)
        if len(channels):
            chance = self.outlook.chance_out(self.ahead, self.limit[channels], channels)
            by_then[channels] = chance[:, -2]
            for row, k in zip(chance, channels.tolist(), strict=True):
                if by_then[k] >= CALMED:
                    self.forecasts[k] = self._forecast(row, float(slope[k]))
        return by_then

    def _forecast(self, chance: np.ndarray, slope: float) -> Forecast | None:
        tail = MODEST * (1.0 - self.rules.confidence) / 2.0
        low, middle, high = (when(chance, self.ahead, p) for p in (tail, 0.5, 1.0 - tail))
        if low is None or middle is None:
            return None
        unit: Literal["m", "frames"] = "m" if self.metres else "frames"
        return Forecast(middle, low, high, unit, slope, self.rules.confidence)
