"""Which frames and which web each colour had outside tolerance, by the rule of the stretches."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from regscan.drift.cost import Cut
from regscan.drift.drift import Stretch
from regscan.drift.series import Series
from regscan.drift.stretches import Seen, find_stretches


@dataclass(frozen=True)
class Outside:
    """One colour on one axis of one camera and edge.

    shift_m   what is added to metres at its camera to have them at the last camera.
    frames    positions, in the run's list, of the frames outside in a stretch that counts.
    """

    series: Series
    shift_m: float
    stretches: tuple[Stretch, ...]
    frames: np.ndarray


def outside_of(series: Series, seen: Seen, shift_m: float) -> Outside:
    """What lies outside, as measured."""
    stretches = find_stretches(seen)
    inside = np.zeros(len(seen.frame), dtype=bool)
    for stretch in stretches:
        first = int(np.flatnonzero(seen.name == stretch.from_frame)[0])
        last = int(np.flatnonzero(seen.name == stretch.to_frame)[-1])
        inside[first : last + 1] = True
    return Outside(series, shift_m, stretches, seen.frame[inside & (seen.beyond_mm > 0)])


def as_if(series: Series, seen: Seen, value_mm: np.ndarray, web_m: np.ndarray) -> Seen:
    """The frames as they would have been: other offsets, other places along the web."""
    beyond = np.abs(value_mm) - series.tolerance_mm
    return replace(seen, value_mm=value_mm, beyond_mm=beyond, web_m=web_m)


def metres_of(found: Iterable[Outside]) -> float | None:
    """Metres of web outside on any of them; None where any of it has no web position."""
    spans = []
    for one in found:
        for stretch in one.stretches:
            if stretch.from_m is None or stretch.to_m is None:
                return None
            spans.append((stretch.from_m + one.shift_m, stretch.to_m + one.shift_m))
    total, reached = 0.0, -np.inf
    for start, end in sorted(spans):
        total += max(end - max(start, reached), 0.0)
        reached = max(reached, end)
    return float(total)


def frames_of(found: Iterable[Outside]) -> int:
    """How many frames show any of them outside."""
    places = [one.frames for one in found]
    return len(np.unique(np.concatenate(places))) if places else 0


def cuts_of(found: Sequence[Outside]) -> tuple[Cut, ...]:
    """Every stretch of every colour and axis."""
    return tuple(_cut(one, stretch) for one in found for stretch in one.stretches)


def _cut(one: Outside, stretch: Stretch) -> Cut:
    def shifted(place: float | None) -> float | None:
        return None if place is None else place + one.shift_m

    series = one.series
    return Cut(
        from_m=shifted(stretch.from_m),
        to_m=shifted(stretch.to_m),
        metres=stretch.metres,
        from_frame=stretch.from_frame,
        to_frame=stretch.to_frame,
        frames=stretch.frames,
        station=series.station,
        ink=series.ink,
        axis=series.axis,
        camera=series.camera,
        edge=series.edge,
        worst_mm=stretch.worst_mm,
        stations=(series.station,),
        worst_sd_mm=stretch.worst_sd_mm,
    )


def merged(cuts: Sequence[Cut], found: Sequence[Outside], web_m: np.ndarray) -> tuple[Cut, ...]:
    """Pieces that touch or overlap as one, in order of the web; pieces without metres as given.

    web_m   of the run's frames at the last camera, to count the frames of each piece.
    """
    placed = sorted((c for c in cuts if c.from_m is not None), key=lambda c: c.from_m or 0.0)
    groups: list[list[Cut]] = []
    reached = -np.inf
    for cut in placed:
        assert cut.from_m is not None
        assert cut.to_m is not None
        if cut.from_m <= reached:
            groups[-1].append(cut)
        else:
            groups.append([cut])
        reached = max(reached, cut.to_m)
    out = np.unique(np.concatenate([one.frames for one in found])) if found else np.empty(0, int)
    return tuple(_joined(group, web_m[out.astype(int)]) for group in groups) + tuple(
        cut for cut in cuts if cut.from_m is None
    )


def _joined(group: list[Cut], out_m: np.ndarray) -> Cut:
    """One piece for many; out_m: places of the frames that are outside anywhere."""
    worst = max(group, key=lambda cut: abs(cut.worst_mm))
    last = max(group, key=lambda cut: cut.to_m or 0.0)
    start, end = group[0].from_m or 0.0, last.to_m or 0.0
    return replace(
        worst,
        from_m=start,
        to_m=end,
        metres=end - start,
        from_frame=group[0].from_frame,
        to_frame=last.to_frame,
        frames=int(((out_m >= start) & (out_m <= end)).sum()),
        stations=tuple(sorted({number for cut in group for number in cut.stations})),
    )
