"""Noise of single frames: what prints scatter by, and what measuring adds.

Register noise has a memory: tension, tack and lamps wander over some metres of web. So
every station has a white part and one that forgets itself over a length of web (AR(1)).
"""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class Noise:
    """Standard deviations of one mark of one station, um.

    print_um     white scatter from print to print (ink edge, screen, substrate: 5-15 um in a
                 real print, a few on good marks [M]).
    wander_um    the part with a memory; memory_m   metres over which it falls to 1/e.
    measure_um   what measuring adds; the only part a single frame's doubt can know.
    """

    print_um: float
    wander_um: float
    memory_m: float
    measure_um: float

    def share(self, part: float) -> "Noise":
        """The same noise, weaker or stronger by that factor."""
        return Noise(
            part * self.print_um, part * self.wander_um, self.memory_m, part * self.measure_um
        )

    @property
    def sd_um(self) -> float:
        """Standard deviation of one mark in one frame."""
        return float(np.sqrt(self.print_um**2 + self.wander_um**2 + self.measure_um**2))


LEVELS = {
    "low": Noise(print_um=1.5, wander_um=1.0, memory_m=6.0, measure_um=0.7),
    "middle": Noise(print_um=4.0, wander_um=2.5, memory_m=6.0, measure_um=1.5),
    "high": Noise(print_um=9.0, wander_um=5.0, memory_m=8.0, measure_um=3.0),
}


def scatter(noise: Noise, web_m: np.ndarray, rows: int, rng: np.random.Generator) -> np.ndarray:
    """rows x frames um: independent rows of noise at rising web positions, taken unevenly.

    The wander at two frames correlates as exp(-metres between them / memory_m).
    """
    white = np.hypot(noise.print_um, noise.measure_um)
    values = white * rng.standard_normal((rows, web_m.size))
    kept = np.exp(-np.diff(web_m, prepend=web_m[:1] - 1e9) / noise.memory_m)
    fresh = noise.wander_um * np.sqrt(1.0 - kept**2) * rng.standard_normal((rows, web_m.size))
    state = np.zeros(rows)
    for k in range(web_m.size):
        state = kept[k] * state + fresh[:, k]
        values[:, k] += state
    return values
