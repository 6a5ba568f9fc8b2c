"""Steady frames kept until they tell the noise: first from a few, then from twice as many ..."""

import numpy as np

from regscan.drift.monitor.noise import Learnt, Steady, learn_noise

MOST = 700  # of the newest steady frames tell the noise well enough
SHORTEST = 8  # frames of a stretch, fewer are left out


class Lessons:
    """Collects steady stretches of a view's channels.

    axis    0 or 1 for every channel; first   frames at which the noise is first told.
    """

    def __init__(self, axis: np.ndarray, first: int) -> None:
        self.axis, self.due = axis, first
        self.stretches: list[list[tuple[float, np.ndarray]]] = [[]]
        self.count = 0

    def new_stretch(self) -> None:
        """The level may be another from here on."""
        if self.stretches[-1]:
            self.stretches.append([])

    def feed(self, at: float, samples: np.ndarray) -> Learnt | None:
        """Take a steady frame; the noise, whenever it is time to tell it anew."""
        self.stretches[-1].append((at, samples))
        self.count += 1
        if self.count < self.due:
            return None
        self.due *= 2
        kept = self._newest()
        return learn_noise(kept, self.axis) if kept else None

    def present(self) -> list[tuple[float, np.ndarray]]:
        """The frames of the stretch that goes on."""
        return self.stretches[-1]

    def _newest(self) -> list[Steady]:
        kept: list[Steady] = []
        room = MOST
        for stretch in reversed(self.stretches):
            newest = stretch[-room:] if room > 0 else []
            if len(newest) >= SHORTEST:
                at, values = zip(*newest, strict=True)
                kept.append(Steady(np.array(at), np.array(values)))
                room -= len(newest)
        return kept[::-1]
