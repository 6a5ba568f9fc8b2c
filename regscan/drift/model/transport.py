"""What passes down the press with the web: strain among gripping drums, and the web's side place.

Work in metres of web. Every station has a lateness: how far toward the unwind the web lies
that passes it. The register of two stations is the difference of their latenesses, each when that
station printed; what is common to one frame drops out. Per unit of what acts on the web:

    strain      strain of the web that comes to the first station, every drum grips:
                span_k d(eps_k)/dx = eps_(k-1) - eps_k
                lateness_i = sum over spans up to i of span_k eps_k - integral of eps_0
    span        one span's content is longer by that much (a hot zone, a lamp's shrinkage, a
                dragging idler): late from there on, and a dip that passes down the press
    spans       the same in every span, in proportion to its length
    drum        surface of one drum runs faster by that share: late by its span from there on
    drums       all drums: lateness_i = integral of the lead
    pull        strain all along the press, only the outfeed nip meters
    side        the web arrives at the first station that far toward the drive side; sideways a
                web follows its rollers as span_k dy_k/dx = y_(k-1) - y_k, and what is
                printed on it lies the other way
    roller, rollers   one drum, or all, skewed to the web by an angle

Where only the infeed nip meters, strain gives a plain fan, which needs no solution. [trade:
mass balance of the web, its linear form; string web after Shelton and Reid 1971, for the subject]
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal, get_args

import numpy as np

Drive = Literal["strain", "span", "spans", "drum", "drums", "pull", "side", "roller", "rollers"]
DRIVES: tuple[Drive, ...] = get_args(Drive)
ALONG: tuple[Drive, ...] = ("strain", "span", "spans", "drum", "drums", "pull")
ACROSS: tuple[Drive, ...] = ("side", "roller", "rollers")
FINEST_M = 0.05
POINTS = 9_000
SETTLED = 12.0  # time constants of the longest span after which nothing changes
OUTFEED_M = 3.0  # path from the last station to the outfeed nip; common practice, no source


@dataclass(frozen=True)
class Spans:
    """The press as the web sees it.

    span_m    length of the span before each station of the press, the first one's unused.
    column    index in span_m of each station that is observed.
    """

    span_m: np.ndarray
    column: np.ndarray

    @property
    def place_m(self) -> np.ndarray:
        """Web path from the first station of the press to every station."""
        return np.asarray(np.cumsum(self.span_m) - self.span_m[0])

    @property
    def path_m(self) -> np.ndarray:
        """The same to each observed one."""
        return np.asarray(self.place_m[self.column])


def grid_of(web_m: np.ndarray, spans: Spans, reach_m: float | None = None) -> np.ndarray:
    """Web positions, evenly spaced, from before the run to its end."""
    low, high = float(web_m.min()), float(web_m.max())
    lead = 3.0 * float(spans.place_m[-1]) + 3.0 if reach_m is None else reach_m
    step = max(FINEST_M, (high - low + lead) / POINTS)
    return np.arange(low - lead, high + 2.0 * step, step)


def answer(drive: Drive, at: int, acts: np.ndarray, grid_m: np.ndarray, spans: Spans) -> np.ndarray:
    """How late (for the lateral drives: how far aside) every station of the press prints.

    acts    what acts on the web, at grid positions; at: index of the station it acts at.

    Returns grid x stations of the press, per unit of what acts, in its own length unit. What
    all marks of a frame have in common is left out: the first station is at zero.
    """
    step = float(grid_m[1] - grid_m[0])
    own = ANSWERS[drive](acts, step, at, spans)
    first = own[0]
    return np.column_stack(
        [
            late - np.interp(grid_m - place, grid_m, first)
            for late, place in zip(own, spans.place_m.tolist(), strict=True)
        ]
    )


def sampled(table: np.ndarray, grid_m: np.ndarray, web_m: np.ndarray, spans: Spans) -> np.ndarray:
    """moments x observed stations from grid x stations of the press."""
    return np.column_stack(
        [
            np.interp(web_m[:, j], grid_m, table[:, station])
            for j, station in enumerate(spans.column.tolist())
        ]
    )


@lru_cache(maxsize=64)
def step_table(
    drive: Drive, at: int, rise_m: float, span_m: tuple[float, ...]
) -> tuple[np.ndarray, np.ndarray]:
    """(grid, answer) to a step at 0 that comes up over rise_m: shifted, it is that of any step."""
    spans = Spans(np.array(span_m), np.arange(len(span_m)))
    reach = float(spans.place_m[-1]) + SETTLED * float(spans.span_m[1:].max()) + 8.0 * rise_m
    grid = np.arange(-float(spans.place_m[-1]) - 1.0, reach, FINEST_M / 2.0)
    since = np.maximum(grid, 0.0)
    acts = np.where(grid >= 0.0, 1.0, 0.0) if rise_m <= 0.0 else -np.expm1(-since / rise_m)
    return grid, answer(drive, at, acts, grid, spans)


def _gripped(
    comes_in: np.ndarray,
    bulge: dict[int, np.ndarray],
    lead: dict[int, np.ndarray],
    step: float,
    spans: Spans,
) -> list[np.ndarray]:
    """Lateness of every station among gripping drums; the common integral is left out.

    comes_in   strain at the first station; bulge: extra content of spans, m; lead: how much
               faster drums run, share.
    """
    late = [-_passed(comes_in, step) + _passed(lead.get(0, comes_in * 0.0), step)]
    leaving = comes_in
    for k in range(1, len(spans.span_m)):
        span = float(spans.span_m[k])
        extra = bulge.get(k)
        drives = leaving + lead.get(k, 0.0) - lead.get(k - 1, 0.0)
        if extra is not None:
            drives = drives + extra / span
        strain = _followed(drives, span, step)
        late.append(late[-1] + span * strain)
        leaving = strain - extra / span if extra is not None else strain
    return late


def _strain(acts: np.ndarray, step: float, at: int, spans: Spans) -> list[np.ndarray]:
    return _gripped(acts, {}, {}, step, spans)


def _span(acts: np.ndarray, step: float, at: int, spans: Spans) -> list[np.ndarray]:
    return _gripped(acts * 0.0, {at: acts}, {}, step, spans)


def _spans(acts: np.ndarray, step: float, at: int, spans: Spans) -> list[np.ndarray]:
    bulges = {k: acts * spans.span_m[k] for k in range(1, len(spans.span_m))}
    return _gripped(acts * 0.0, bulges, {}, step, spans)


def _drum(acts: np.ndarray, step: float, at: int, spans: Spans) -> list[np.ndarray]:
    return _gripped(acts * 0.0, {}, {at: acts}, step, spans)


def _drums(acts: np.ndarray, step: float, at: int, spans: Spans) -> list[np.ndarray]:
    return [_passed(acts, step)] * len(spans.span_m)


def _pull(acts: np.ndarray, step: float, at: int, spans: Spans) -> list[np.ndarray]:
    passed, end = _passed(acts, step), float(spans.place_m[-1]) + OUTFEED_M
    return [-passed - (end - place) * acts for place in spans.place_m.tolist()]


def _side(acts: np.ndarray, step: float, at: int, spans: Spans) -> list[np.ndarray]:
    return _aside(acts, {}, step, spans)


def _roller(acts: np.ndarray, step: float, at: int, spans: Spans) -> list[np.ndarray]:
    return _aside(acts * 0.0, {at: acts}, step, spans)


def _rollers(acts: np.ndarray, step: float, at: int, spans: Spans) -> list[np.ndarray]:
    return _aside(acts * 0.0, dict.fromkeys(range(1, len(spans.span_m)), acts), step, spans)


def _aside(
    comes_in: np.ndarray, skew: dict[int, np.ndarray], step: float, spans: Spans
) -> list[np.ndarray]:
    sides = [comes_in]
    for k in range(1, len(spans.span_m)):
        span = float(spans.span_m[k])
        sides.append(_followed(sides[-1] + span * skew.get(k, 0.0), span, step))
    return [-side for side in sides]


ANSWERS: dict[Drive, Callable[[np.ndarray, float, int, Spans], list[np.ndarray]]] = {
    "strain": _strain,
    "span": _span,
    "spans": _spans,
    "drum": _drum,
    "drums": _drums,
    "pull": _pull,
    "side": _side,
    "roller": _roller,
    "rollers": _rollers,
}


def _passed(rate: np.ndarray, step: float) -> np.ndarray:
    """Integral over web metres."""
    return np.concatenate(([0.0], np.cumsum(rate[1:] + rate[:-1]) * step / 2.0))


def _followed(drive: np.ndarray, span_m: float, step: float) -> np.ndarray:
    """y of  span * dy/dx = drive - y, settled at the start; exact for straight pieces."""
    from scipy.signal import lfilter

    ratio = step / span_m
    keep = float(np.exp(-ratio))
    new = 1.0 - (1.0 - keep) / ratio
    old = (1.0 - keep) / ratio - keep
    found, _ = lfilter([new, old], [1.0, -keep], drive, zi=[drive[0] * (1.0 - new)])
    return np.asarray(found)
