"""Where a periodic movement shows in what is left: a spectrum of all stations, quickly.

The positions of frames are even or nearly so, so a fast Fourier transform on a fine grid finds
the candidates in n log n; the Lomb-Scargle periodogram, exact for uneven positions, then
settles each one. Power is measured against its own neighbourhood, so that noise that wanders
and slow remains of other things do not pass for periods.
"""

from dataclasses import dataclass

import numpy as np

FINEST = 1 << 16
OVERSAMPLED = 4
NEIGHBOURS = 40  # resolved frequencies on either side that make the neighbourhood
ONE_IN = 1e-4
"""Chance that noise alone makes a line, for one channel."""


@dataclass(frozen=True)
class Peak:
    """A frequency in turns per metre (or second), and how unlikely it is as noise (log of it)."""

    frequency: float
    log_chance: float


def find_peak(at: np.ndarray, left: np.ndarray, least_turns: float, highest: float) -> Peak | None:
    """The clearest line in the residuals of all stations; None when there is none.

    at       positions of the moments, rising (m or s).
    left     moments x series, 0 where nothing was seen; their noise is independent.
    least_turns, highest  turns in the run from which, and frequency up to which, to look.
    """
    length = float(np.ptp(at))
    step = _grid_step(at)
    if length <= 0.0 or len(at) < 24:
        return None
    count = round(length / step) + 1
    size = 1 << int(np.ceil(np.log2(OVERSAMPLED * count)))
    cells = np.rint((at - at[0]) / step).astype(int)
    power = np.array([_power(cells, values, size) for values in left.T])
    frequency = np.arange(power.shape[1]) / (size * step)
    least = least_turns / length
    inside = (frequency >= least) & (frequency <= highest)
    if not inside.any():
        return None
    chance = _log_chance(_against_neighbours(power, inside, size * step / length))
    top = int(np.argmin(chance))
    tried = np.log(max((frequency[inside][-1] - least) * length, 2.0))
    if chance[top] + tried > np.log(ONE_IN):
        return None
    return Peak(float(frequency[inside][top]), float(chance[top] + tried))


def highest_frequency(at: np.ndarray) -> float:
    """Above this a frequency looks just like a lower one: half a turn from frame to frame.

    Positions that are not whole multiples of one pitch see further: to a wave of 0.12 m.
    """
    steps = np.diff(at)
    pitch = float(np.median(steps[steps > 0])) if (steps > 0).any() else 1.0
    even = np.abs(steps / pitch - np.rint(steps / pitch)) < 0.02
    if even.all():
        return 0.5 / pitch
    return min(1.0 / 0.12, 0.5 / _grid_step(at))


def _grid_step(at: np.ndarray) -> float:
    """A grid on which every position falls, or nearly."""
    steps = np.diff(at)
    steps = steps[steps > 0]
    if not len(steps):
        return 1.0
    pitch = float(np.median(steps))
    if (np.abs(steps / pitch - np.rint(steps / pitch)) < 0.02).all():
        return pitch
    return max(float(np.percentile(steps, 2)) / 8.0, float(np.ptp(at)) * OVERSAMPLED / FINEST)


def _power(cells: np.ndarray, left: np.ndarray, size: int) -> np.ndarray:
    grid = np.bincount(cells, weights=left, minlength=size)
    return np.asarray(np.abs(np.fft.rfft(grid[:size])) ** 2)


def _against_neighbours(power: np.ndarray, inside: np.ndarray, per_line: float) -> np.ndarray:
    """Power over the mean of its neighbourhood (by the median): exponential for noise."""
    from scipy.ndimage import median_filter

    reach = max(round(per_line), 1)
    wide = power[:, inside]
    # One value for each resolved line is enough for the neighbourhood's median.
    coarse = wide[:, ::reach]
    # Row by row: scipy keeps a running median of a single row only.
    middle = np.array([median_filter(r, 2 * NEIGHBOURS + 1, mode="nearest") for r in coarse])
    spots = np.minimum(np.arange(wide.shape[1]) // reach, middle.shape[1] - 1)
    return np.asarray(wide * np.log(2.0) / np.maximum(middle[:, spots], 1e-300))


def _log_chance(ratio: np.ndarray) -> np.ndarray:
    """Log of the chance of noise: the clearest station alone, or all together."""
    from scipy.special import gammaincc

    stations = len(ratio)
    alone = np.log(stations) - ratio.max(axis=0)
    total = ratio.sum(axis=0)
    joint = gammaincc(stations, total)
    # Far out the chance is below the smallest number: its leading term goes on.
    far = -total + (stations - 1) * np.log(np.maximum(total, 1.0) / max(stations - 1, 1))
    together = np.where(joint > 1e-250, np.log(np.maximum(joint, 1e-300)), far)
    return np.asarray(np.minimum(alone, together))


def best_alias(at: np.ndarray, left: np.ndarray, frequency: float, pitch: float) -> float:
    """Of all frequencies that look alike in frames `pitch` apart, that which fits them all best.

    With marks at several places of the pitch the others fit nearly as well, but not quite.
    """
    most = int(np.ceil(2.0 * highest_frequency(at) * pitch))
    turns = np.arange(-most, most + 1) / pitch
    tried = np.abs(np.concatenate((turns + frequency, turns - frequency)))
    tried = tried[(tried > 4.0 / np.ptp(at)) & (tried <= highest_frequency(at))]
    tried = np.unique(np.append(tried, frequency))
    power = (np.abs(np.exp(-2j * np.pi * tried[:, None] * at[None, :]) @ left) ** 2).sum(axis=1)
    return float(tried[int(np.argmax(power))])


def settled(at: np.ndarray, left: np.ndarray, frequency: float) -> float:
    """The frequency near that one at which Lomb and Scargle's power is largest."""
    reach = 1.0 / float(np.ptp(at))
    power_of_one = (left**2).sum(axis=0) / np.maximum((left**2).sum(axis=0), 1e-300) ** 2
    for _ in range(3):
        tried = frequency + reach * np.linspace(-1.0, 1.0, 13)
        tried = tried[tried > 0.0]
        power = lomb_scargle(at, left, tried) @ power_of_one
        frequency = float(tried[np.argmax(power)])
        reach *= 0.2
    return frequency


def lomb_scargle(at: np.ndarray, left: np.ndarray, frequency: np.ndarray) -> np.ndarray:
    """Lomb and Scargle's power, frequencies x series, of all series at once.

    left   moments x series; where one is 0 nothing was seen. The power is that of
           scipy.signal.lombscargle on what was seen, which takes series one by one.
    """
    angle = 2.0 * np.pi * frequency[:, None] * at[None, :]
    cos, sin = np.cos(angle), np.sin(angle)
    seen = (left != 0.0).astype(float)
    cos_cos, cos_sin = (cos * cos) @ seen, (cos * sin) @ seen
    sin_sin = seen.sum(axis=0) - cos_cos
    # Turned by the angle at which cosine and sine are orthogonal on the moments that were seen.
    turn = 0.5 * np.arctan2(2.0 * cos_sin, cos_cos - sin_sin)
    c, s = np.cos(turn), np.sin(turn)
    onto_cos, onto_sin = cos @ left, sin @ left
    crossed = 2.0 * c * s * cos_sin
    first = (c * onto_cos + s * onto_sin) ** 2 / (c**2 * cos_cos + crossed + s**2 * sin_sin)
    second = (c * onto_sin - s * onto_cos) ** 2 / (c**2 * sin_sin - crossed + s**2 * cos_cos)
    return np.asarray(0.5 * (first + second))


def even_spectra(at: np.ndarray, series: np.ndarray, even: np.ndarray) -> np.ndarray:
    """Power of every series at evenly spaced frequencies; series x frequencies.

    Every frequency is a coarse one and some fine steps, so that its turns are those of the
    one times those of the other, and few of them have to be worked out.
    """
    size = max(int(np.sqrt(len(even))), 1)
    coarse, fine = even[::size], even[:size] - even[0]
    turning = np.exp(-2j * np.pi * coarse[:, None] * at)
    onward = np.exp(-2j * np.pi * at[:, None] * fine)
    sums = np.array([(turning * values) @ onward for values in series.T])
    return np.asarray(np.abs(sums.reshape(len(sums), -1)[:, : len(even)]) ** 2)
