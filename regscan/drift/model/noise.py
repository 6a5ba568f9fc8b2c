"""Register noise that wanders: a first-order part and a part that is new in every frame.

Least squares on what this filter leaves (generalised least squares) gives honest doubts. The
correlation is that of the residuals about the whole model, by restricted maximum
likelihood over a grid, so that fitted terms do not eat it up (Patterson and Thompson 1971).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

CORRELATIONS = (0.0, 0.15, 0.3, 0.45, 0.6, 0.7, 0.8, 0.87, 0.92, 0.95, 0.97, 0.985, 0.993, 0.997)
SHARES = (1.0, 0.85, 0.72, 0.6, 0.5, 0.42, 0.35, 0.28, 0.22, 0.16)
WHOLE, MOSTLY = 0.9, 0.4
SAFE = 2.0
MOST = 1000  # moments in the middle of the run are enough to tell the noise by


@dataclass(frozen=True, slots=True)
class Noise:
    """correlation of the wandering part from frame to frame, and its share of the variance."""

    correlation: float = 0.0
    share: float = 1.0

    @property
    def frames_per_independent(self) -> float:
        """How many frames are worth one independent frame, in a long series."""
        rho = self.correlation
        return 1.0 + 2.0 * self.share * rho / (1.0 - rho)


@dataclass(frozen=True)
class Seen:
    """What was observed when.

    gap      frames since the moment before (1 for neighbours), one per moment; the first
             is not used.
    weight   moments x kinds of station: 1 for a full observation, 0 for none, between for a
             poor one; kind_of: the kind of every station.
    """

    gap: np.ndarray
    weight: np.ndarray
    kind_of: np.ndarray


def seen_of(gap: np.ndarray, weight: np.ndarray) -> Seen:
    """Stations that were seen alike are of one kind; weight is moments x stations."""
    first: dict[bytes, int] = {}
    of_station = [first.setdefault(column.tobytes(), k) for k, column in enumerate(weight.T)]
    kinds = sorted(first.values())
    return Seen(gap, weight[:, kinds], np.searchsorted(kinds, of_station))


class Whitener:
    """Takes the correlation out of columns; leaves innovations of equal spread.

    The filter is Kalman's, written as one bidiagonal system. known: gains that were worked out
    before and are kept there.
    """

    def __init__(self, seen: Seen, noise: Noise, known: dict[object, np.ndarray] | None = None):
        self.noise = noise
        self.kind_of = seen.kind_of
        gain, scale = _gains(seen, noise, {} if known is None else known)
        decay = noise.correlation**seen.gap
        self.scale = scale[:, self.kind_of]
        used = self.scale > 0.0
        self.log_scale = float(np.log(self.scale[used]).sum())
        self.feed = decay[1:, None] * gain[:-1]
        self.keep = decay[1:, None] * (1.0 - gain[:-1])

    def __call__(self, columns: np.ndarray) -> np.ndarray:
        """Whitened columns; moments x stations x columns, zeros where nothing was observed."""
        if self.noise.correlation == 0.0 or len(columns) < 2:
            return columns * self.scale[:, :, None]
        out = np.empty_like(columns)
        for kind in range(self.feed.shape[1]):
            mine = self.kind_of == kind
            block = columns[:, mine].reshape(len(columns), -1)
            out[:, mine] = self._new(block, kind).reshape(len(columns), mine.sum(), -1)
        return out * self.scale[:, :, None]

    def alike(self, columns: np.ndarray, station: int) -> np.ndarray:
        """Columns (moments x columns) whitened as one station's are."""
        new = self._new(columns, int(self.kind_of[station]))
        return new * self.scale[:, station, None]

    def _new(self, block: np.ndarray, kind: int) -> np.ndarray:
        """What each moment brings that the moments before did not foretell."""
        if self.noise.correlation == 0.0 or len(block) < 2 or not block.size:
            return block
        from scipy.linalg.lapack import dtbtrs

        bands = np.ones((2, len(block)), order="F")
        bands[1, :-1] = -self.keep[:, kind]
        drive = np.zeros(block.shape, order="F")
        np.multiply(self.feed[:, kind, None], block[:-1], out=drive[1:])
        # Triangular already, with ones down its diagonal: nothing to factorise, nothing to fail.
        foreseen, _ = dtbtrs(bands, drive, uplo="L", diag="U", overwrite_b=True)
        return np.asarray(block - foreseen)


def _gains(
    seen: Seen, noise: Noise, known: dict[object, np.ndarray]
) -> tuple[np.ndarray, np.ndarray]:
    """Kalman gain and 1 / innovation spread, moments x kinds of station."""
    columns = []
    for weight in seen.weight.T:
        key = noise, seen.gap.tobytes(), weight.tobytes()
        if key not in known:
            kept = ((noise.correlation**seen.gap) ** 2).tolist()
            known[key] = np.array(_gains_of(kept, weight.tolist(), noise.share))
        columns.append(known[key])
    gain, scale = np.array(columns).transpose(1, 2, 0)
    return gain, scale


def _gains_of(
    kept: list[float], weights: list[float], share: float
) -> tuple[list[float], list[float]]:
    # Plain floats: a loop over a few thousand moments is quicker so than with arrays.
    gains, scales, variance = [], [], share
    for keep, weight in zip(kept, weights, strict=True):
        variance = keep * variance + share * (1.0 - keep)
        if weight <= 0.0:
            gains.append(0.0)
            scales.append(0.0)
            continue
        spread = variance + 1.0 / weight - share
        gain = variance / spread
        gains.append(gain)
        scales.append(spread**-0.5)
        variance *= 1.0 - gain
    return gains, scales


def noise_of_residuals(
    values: np.ndarray,
    terms: np.ndarray,
    gap: np.ndarray,
    weight: np.ndarray,
    known: dict[object, np.ndarray] | None = None,
) -> Noise:
    """The noise of data about a model.

    values   moments x stations.
    terms    moments x terms, fitted to every station by itself.
    known    where filters are kept for the next time the same was seen.
    """
    middle = slice(max(len(values) - MOST, 0) // 2, (len(values) + MOST) // 2)
    values, terms, gap, weight = values[middle], terms[middle], gap[middle], weight[middle]
    whole = (weight > WHOLE).all(axis=1)
    if whole.mean() > MOSTLY:
        # Where all stations were seen one filter does for all.
        gap = np.diff(np.cumsum(gap)[whole], prepend=0.0)
        values, terms, weight = values[whole], terms[whole], np.ones_like(values[whole])
    seen, told = seen_of(gap, weight), dict[Noise, float]()

    def likelihood(noise: Noise) -> float:
        if noise not in told:
            told[noise] = _likelihood(values, terms, Whitener(seen, noise, known))
        return told[noise]

    coarse = [Noise(c, s) for c in CORRELATIONS[2::3] for s in SHARES[::3]]
    best = max([Noise(), *coarse], key=likelihood)
    return best if best.correlation == 0.0 else _climbed(best, likelihood)


def _climbed(best: Noise, likelihood: Callable[[Noise], float]) -> Noise:
    """Uphill over the grid, aslant too: correlation and share go together along a ridge."""
    while True:
        c, s = CORRELATIONS.index(best.correlation), SHARES.index(best.share)
        around = {
            (i, j): likelihood(Noise(CORRELATIONS[i], SHARES[j]))
            for i in range(max(c - 1, 1), min(c + 2, len(CORRELATIONS)))
            for j in range(max(s - 1, 0), min(s + 2, len(SHARES)))
        }
        top = max(around, key=lambda k: around[k])
        if top == (c, s):
            return _between(c, s, around)
        best = Noise(CORRELATIONS[top[0]], SHARES[top[1]])


def _between(c: int, s: int, around: dict[tuple[int, int], float]) -> Noise:
    """The top of the parabola through a point of the grid and its neighbours, on the safe side.

    Likelihood falls slowly toward noise that wanders longer than a run can show, and too short a
    wander makes every doubt too small. So what is sought is the top of likelihood times
    frames_per_independent ** SAFE: next to nothing in long runs, which know their noise.
    """
    best = Noise(CORRELATIONS[c], SHARES[s])
    if len(around) < 9:
        return best
    near = [[(c + i, s + j) for j in (-1, 0, 1)] for i in (-1, 0, 1)]
    up = np.array([[around[k] for k in row] for row in near])
    worth = np.array([[_worth(*k) for k in row] for row in near])
    slope = _slope(up) + SAFE * _slope(worth)
    bend = np.empty((2, 2))
    bend[0, 0] = up[2, 1] - 2.0 * up[1, 1] + up[0, 1]
    bend[1, 1] = up[1, 2] - 2.0 * up[1, 1] + up[1, 0]
    bend[0, 1] = bend[1, 0] = (up[2, 2] - up[2, 0] - up[0, 2] + up[0, 0]) / 4.0
    if not (np.linalg.eigvalsh(bend) < 0.0).all():
        return best
    step = np.clip(-np.linalg.solve(bend, slope), -1.0, 1.0)
    return Noise(
        float(np.interp(c + step[0], np.arange(len(CORRELATIONS)), CORRELATIONS)),
        float(np.interp(s + step[1], np.arange(len(SHARES)), SHARES)),
    )


def _worth(c: int, s: int) -> float:
    return float(np.log(Noise(CORRELATIONS[c], SHARES[s]).frames_per_independent))


def _slope(values: np.ndarray) -> np.ndarray:
    """Per point of the grid, both ways."""
    return np.array([values[2, 1] - values[0, 1], values[1, 2] - values[1, 0]]) / 2.0


def _likelihood(values: np.ndarray, terms: np.ndarray, whiten: Whitener) -> float:
    total = whiten.log_scale
    white = whiten(values[:, :, None])[:, :, 0]
    for kind in range(whiten.feed.shape[1]):
        mine = np.flatnonzero(whiten.kind_of == kind)
        design = whiten.alike(terms, int(mine[0]))
        size = np.sqrt(np.maximum((design**2).sum(axis=0), 1e-300))
        design = design / size
        gram = design.T @ design + 1e-12 * np.eye(len(size))
        onto = design.T @ white[:, mine]
        misfit = (white[:, mine] ** 2).sum(axis=0) - (onto * np.linalg.solve(gram, onto)).sum(0)
        free = int((whiten.scale[:, mine[0]] > 0.0).sum()) - len(size)
        if free < 2:
            continue
        total -= 0.5 * free * float(np.log(np.maximum(misfit, 1e-300) / free).sum())
        volume = float(np.log(size).sum()) + 0.5 * float(np.linalg.slogdet(gram)[1])
        total -= len(mine) * volume
    return total
