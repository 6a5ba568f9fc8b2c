"""How far a colour strays while the speed changes."""

import numpy as np

from regscan.drift.drift import Excursion, Segment
from regscan.drift.stretches import Seen, known


def find_excursions(
    seen: Seen, of_segment: np.ndarray, segments: tuple[Segment, ...]
) -> tuple[Excursion, ...]:
    """For each ramp, the good frame whose offset lies furthest from zero.

    of_segment   the segment number of each good frame (by when it was printed).
    """
    ramps = [s.number for s in segments if s.phase in ("speeding up", "slowing down")]
    found = []
    for number in ramps:
        inside = np.flatnonzero(of_segment == number)
        if len(inside):
            worst = inside[np.argmax(np.abs(seen.value_mm[inside]))]
            found.append(_excursion(seen, int(worst), number))
    return tuple(found)


def _excursion(seen: Seen, at: int, segment: int) -> Excursion:
    doubt = float(seen.doubt_mm[at])
    return Excursion(
        segment=segment,
        frame=str(seen.name[at]),
        time_s=known(seen.time_s[at]),
        web_m=known(seen.web_m[at]),
        speed_m_min=known(seen.speed_m_min[at]),
        worst_mm=float(seen.value_mm[at]),
        sd_mm=doubt if doubt > 0 else None,
    )
