"""Which holds of two runs are the same step of the same course of speeds."""

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from itertools import pairwise

from regscan.drift.drift import Drift, Level, Segment, Track

NEAR = 0.1  # share of a speed within which two holds have the same


@dataclass(frozen=True, slots=True)
class Match:
    """Segment numbers of one hold, now and before; speed_m_min None where none is known."""

    now: int
    before: int
    speed_m_min: float | None


def match_holds(now: Drift, before: Drift) -> list[Match]:
    """Holds that both runs have at one speed and in one order, the longest such row of them.

    Runs without any known speed match as a whole.
    """
    mine, theirs = _holds(now), _holds(before)
    speeds = [s.end_speed_m_min or 0.0 for s in mine + theirs]
    names = _classes(speeds)
    matcher = SequenceMatcher(None, names[: len(mine)], names[len(mine) :], autojunk=False)
    return [
        Match(
            mine[block.a + k].number,
            theirs[block.b + k].number,
            mine[block.a + k].end_speed_m_min,
        )
        for block in matcher.get_matching_blocks()
        for k in range(block.size)
    ]


def _holds(drift: Drift) -> list[Segment]:
    holds = [s for s in drift.segments if s.phase == "hold"]
    ramps = any(s.phase in ("speeding up", "slowing down") for s in drift.segments)
    return holds if holds or ramps else list(drift.segments)


def _classes(speeds: Sequence[float]) -> list[int]:
    """A number for every speed; speeds near each other share one."""
    order = sorted(range(len(speeds)), key=speeds.__getitem__)
    names, number = [0] * len(speeds), 0
    for one, other in pairwise(order):
        number += speeds[other] > (1.0 + NEAR) * speeds[one]
        names[other] = number
    return names


def levels_of(track: Track) -> dict[int, Level]:
    """Its levels that may be compared: of good frames, with a doubt, by segment."""
    return {v.segment: v for v in track.levels if not v.doubtful and v.own_sd_mm}
