"""The two charts on noise of known form: run lengths, false alarms, delays."""

from dataclasses import dataclass

import numpy as np

from regscan.drift.monitor.charts import Cusum, Ewma
from regscan.drift.monitor.record import MonitorRules
from regscan.drift.monitor.view import Channel, View

PITCH_M = 0.6096  # a frame every second repeat of 304.8 mm
WANDERS = {"independent": (0.0, 1.0), "wandering": (0.3, 6.0)}
"""Share of the variance that wanders, and metres in which it forgets itself: the bank's middle
noise has 0.25 over 6 m [M]."""


def run_length(chart, shift_sd, count, longest):
    """Mean frames to a chart's first signal, from zero, over `count` series cut at `longest`.

    A series that is cut counts as its length and no signal: total frames over signals.
    """
    rng = np.random.default_rng([7, int(100 * shift_sd)])
    going, frames, signals = np.ones(count, dtype=bool), 0, 0
    for _ in range(longest):
        hit = chart.feed(shift_sd + rng.standard_normal(count)) & going
        frames += int(going.sum())
        signals += int(hit.sum())
        going &= ~hit
        if not going.any():
            break
    return frames / max(signals, 1)


def chart_of(name, count):
    """The charts whose run lengths are published, on series of unit noise."""
    if name == "cusum":
        return Cusum(count, 0.5, 4.0)
    weight, width = name
    return Ewma(count, weight, width)


@dataclass
class Noisy:
    """Frames of noise with a memory, channels side by side, unit standard deviation."""

    channels: int
    share: float
    memory_m: float
    rng: np.random.Generator

    def __post_init__(self):
        self.state = self.rng.standard_normal(self.channels)

    def next(self):
        kept = np.exp(-PITCH_M / self.memory_m)
        fresh = self.rng.standard_normal(self.channels)
        self.state = kept * self.state + np.sqrt(1.0 - kept**2) * fresh
        white = self.rng.standard_normal(self.channels)
        return np.sqrt(self.share) * self.state + np.sqrt(1.0 - self.share) * white


def view_of(channels, calm_frames):
    """A view of that many colours, one axis each, far inside tolerance."""
    rules = MonitorRules(calm_frames=calm_frames)
    made = [Channel(k + 1, f"ink {k + 1}", "circumferential", 1e6) for k in range(channels)]
    return View(made, 10.0, True, rules)


def false_alarms(wander, channels, frames, calm_frames, seed=0):
    """Chart alarms of a calm run, all channels together, per 10,000 frames."""
    noisy = Noisy(channels, *WANDERS[wander], np.random.default_rng([3, seed]))
    view = view_of(channels, calm_frames)
    alarms = sum(len(view.feed(k * PITCH_M, 100.0, noisy.next()).shifts) for k in range(frames))
    return 10_000 * alarms / frames


def delays(wander, shift_sd, channels, rounds, calm_frames, before=300, longest=400):
    """Frames from a shift of every channel to its first alarm; those never alarmed: `longest`.

    A channel that had a false alarm is counted like the others.
    """
    found = []
    for seed in range(rounds):
        noisy = Noisy(channels, *WANDERS[wander], np.random.default_rng([5, seed]))
        view = view_of(channels, calm_frames)
        for k in range(before):
            view.feed(k * PITCH_M, 100.0, noisy.next())
        first = {}
        for k in range(longest):
            said = view.feed((before + k) * PITCH_M, 100.0, shift_sd + noisy.next())
            for shift in said.shifts:
                first.setdefault(shift.channel, k + 1)
        found += [first.get(channel, longest) for channel in range(channels)]
    return np.array(found)
