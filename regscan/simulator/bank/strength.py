"""How clearly a fault stands out of the noise, and the size that makes it stand out enough."""

from collections.abc import Sequence

import numpy as np

from regscan.simulator.press.noise import Noise
from regscan.simulator.press.register import Register

# A size known to about 4 % of itself by the best of fits; no mark further off than that.
CLEAR = 25.0
FURTHEST_UM = 300.0
HIDDEN = 0.1


def clarity(part: Register, edges: Sequence[str], noise: Noise, pitch_m: float) -> float:
    """Signal over noise of the clearest station and axis, all frames together.

    Sum over frequencies of the part's power over that of the noise of mark and reference
    (a matched filter); the mean over all frames and edges counts as set-up and not at all.
    """
    seen = [part.at_edge(edge) for edge in edges]
    best = 0.0
    for axis in (0, 1):
        values = np.array([both[axis] for both in seen])
        values = values - values.mean(axis=(0, 2), keepdims=True)
        power = np.abs(np.fft.fft(values, axis=2)) ** 2 / values.shape[2]
        ratio = power / noise_power(noise, values.shape[2], pitch_m)
        best = max(best, float(np.sqrt(ratio.sum(axis=(0, 2)).max())))
    return best


def noise_power(noise: Noise, frames: int, pitch_m: float) -> np.ndarray:
    """Power of the noise of an offset (mark and reference) at each frequency of an FFT, um^2."""
    kept = np.exp(-pitch_m / noise.memory_m)
    turn = 2.0 * np.pi * np.fft.fftfreq(frames)
    wander = noise.wander_um**2 * (1.0 - kept**2) / (1.0 - 2.0 * kept * np.cos(turn) + kept**2)
    return np.asarray(2.0 * (noise.print_um**2 + noise.measure_um**2 + wander))


def largest_um(part: Register, edges: Sequence[str]) -> float:
    """The furthest that any mark goes."""
    return max(float(np.abs(values).max()) for edge in edges for values in part.at_edge(edge))


def factor_for(clear: float, largest: float) -> float:
    """How many times stronger the fault must be to be clear, without going too far.

    What hardly shows (a speed term at one speed) is not made to show.
    """
    if clear < HIDDEN or largest <= 0.0:
        return 1.0
    return min(max(1.0, CLEAR / clear), FURTHEST_UM / largest)
