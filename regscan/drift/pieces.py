"""A noisy speed record as straight pieces: where it holds, climbs, falls, and where it bends."""

from dataclasses import dataclass

import numpy as np

MAX_POINTS = 1500
FEWEST = 3  # points in a piece: fewer cannot tell a bend from noise
SPIKE = 6.0  # noise widths from the local median at which a sample is a spike
FLOOR_M_MIN = 0.2  # noise never believed smaller: rounded logs repeat the same value


@dataclass(frozen=True, slots=True)
class Piece:
    """A straight piece of the record between two bends.

    start, end           where it begins and ends, in the record's own measure (s, m or frames).
    start_speed_m_min, end_speed_m_min   the line's value there.
    """

    start: float
    end: float
    start_speed_m_min: float
    end_speed_m_min: float


def straight_pieces(at: np.ndarray, speed_m_min: np.ndarray) -> list[Piece]:
    """The fewest straight pieces that explain a speed record to within its noise.

    at, speed_m_min   same length, finite, `at` not falling; spikes of one or two
                      samples are left out.

    Method: least squares over all ways to cut the record (dynamic programming), where
    every further piece must lower the squared misfit by PENALTY; the bend between two
    pieces is where their lines cross. See docs/how/drift.md.
    """
    x, v = _thinned(*_without_spikes(at, speed_m_min))
    if len(x) < 2 * FEWEST:
        middle = float(np.median(v))
        return [Piece(float(at[0]), float(at[-1]), middle, middle)]
    spans = _cut(x, v, max(noise_of(v), FLOOR_M_MIN))
    lines = [_line(x[a:b], v[a:b]) for a, b in spans]
    bends = [_bend(x, lines[k], lines[k + 1], spans[k][1]) for k in range(len(spans) - 1)]
    edges = [float(at[0]), *bends, float(at[-1])]
    return [
        Piece(edges[k], edges[k + 1], a + b * edges[k], a + b * edges[k + 1])
        for k, (a, b) in enumerate(lines)
    ]


def noise_of(values: np.ndarray) -> float:
    """Short-term noise (one standard deviation) of a series that may drift.

    From the median size of second differences, which no straight drift and few
    jumps can move; a second difference of white noise has variance 6 sigma^2.
    0 for fewer than five values.
    """
    if len(values) < 5:
        return 0.0
    bends = values[:-2] - 2.0 * values[1:-1] + values[2:]
    return float(1.4826 * np.median(np.abs(bends)) / np.sqrt(6.0))


def _without_spikes(x: np.ndarray, v: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Leave out samples that stand off from the median of the seven around them."""
    if len(v) < 7:
        return x, v
    around = np.lib.stride_tricks.sliding_window_view(np.pad(v, 3, mode="reflect"), 7)
    stands_off = np.abs(v - np.median(around, axis=1))
    kept = stands_off <= SPIKE * max(noise_of(v), FLOOR_M_MIN) + _steepest(v)
    return x[kept], v[kept]


def _steepest(v: np.ndarray) -> float:
    """Change over three samples in a brisk ramp, so that a bend is never taken for a spike."""
    return 3.0 * float(np.percentile(np.abs(np.diff(v)), 90))


def _thinned(x: np.ndarray, v: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """At most MAX_POINTS points, each the mean of as many neighbours."""
    size = -(-len(x) // MAX_POINTS)
    if size == 1:
        return x, v
    starts = np.arange(0, len(x), size)
    counts = np.diff(np.append(starts, len(x)))
    return np.add.reduceat(x, starts) / counts, np.add.reduceat(v, starts) / counts


def _cut(x: np.ndarray, v: np.ndarray, noise: float) -> list[tuple[int, int]]:
    """Half-open index ranges of the best pieces (Bellman's recursion over the last bend)."""
    n = len(x)
    sums = _Sums(x, v)
    # Two numbers for the line and one for the bend, each worth log(n) (Schwarz), doubled
    # because real logs are not white and a hold cut in two costs more than one bend lost.
    penalty = 2.0 * 3.0 * np.log(n) * noise**2
    best = np.full(n + 1, np.inf)
    best[0] = -penalty
    came_from = np.zeros(n + 1, dtype=int)
    for end in range(FEWEST, n + 1):
        starts = np.arange(0, end - FEWEST + 1)
        costs = best[starts] + sums.misfit(starts, end) + penalty
        came_from[end] = int(np.argmin(costs))
        best[end] = costs[came_from[end]]
    spans, end = [], n
    while end > 0:
        spans.append((int(came_from[end]), end))
        end = int(came_from[end])
    return spans[::-1]


class _Sums:
    """Running sums that give the misfit of a line over any range at once."""

    def __init__(self, x: np.ndarray, v: np.ndarray) -> None:
        # About their means, or the differences of large sums lose all digits.
        x, v = x - x.mean(), v - v.mean()
        self.rows = np.array(
            [np.concatenate(([0.0], np.cumsum(q))) for q in (x**0, x, v, x * x, x * v, v * v)]
        )

    def misfit(self, starts: np.ndarray, end: int) -> np.ndarray:
        """Sum of squared residuals of the best line over each range [start, end)."""
        count, sx, sv, sxx, sxv, svv = self.rows[:, end, None] - self.rows[:, starts]
        xx, xv, vv = sxx - sx * sx / count, sxv - sx * sv / count, svv - sv * sv / count
        explained = np.divide(xv * xv, xx, out=np.zeros_like(xx), where=xx > 0)
        result: np.ndarray = np.maximum(vv - explained, 0.0)
        return result


def _line(x: np.ndarray, v: np.ndarray) -> tuple[float, float]:
    """(value at 0, slope) of the least-squares line."""
    middle = x.mean()
    spread = float(((x - middle) ** 2).sum())
    slope = float(((x - middle) * v).sum() / spread) if spread > 0 else 0.0
    return float(v.mean() - slope * middle), slope


def _bend(x: np.ndarray, line: tuple[float, float], after: tuple[float, float], cut: int) -> float:
    """Where two lines cross, if that is near the cut; else halfway between the two points there."""
    halfway = float(x[cut - 1] + x[cut]) / 2.0
    reach = 2.0 * float(x[min(cut + 1, len(x) - 1)] - x[max(cut - 2, 0)])
    if line[1] == after[1]:
        return halfway
    cross = (line[0] - after[0]) / (after[1] - line[1])
    return cross if abs(cross - halfway) <= reach else halfway
