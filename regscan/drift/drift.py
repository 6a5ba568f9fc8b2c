"""What a run of frames says about each station: plain records, ready for run.json.

Values that are not known are None. Offsets follow the contract: + is late,
+ is toward the drive side. Places along the run are metres of web at the
camera and seconds of the run's clock.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from regscan.drift.across import EdgePair, RoundRepeat
from regscan.drift.alert import Alert
from regscan.drift.behaviour import Behaviours
from regscan.drift.cause import Cause
from regscan.drift.cost import Cost
from regscan.drift.protocol import ProtocolCheck
from regscan.job.job import Axis

Phase = Literal["hold", "speeding up", "slowing down", "standing", "unknown"]


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of the run in which the speed holds, climbs or falls.

    first_frame, last_frame   positions in the run's list of frames (inclusive).
    """

    number: int
    phase: Phase
    first_frame: int
    last_frame: int
    start_s: float | None
    end_s: float | None
    start_m: float | None
    end_m: float | None
    start_speed_m_min: float | None
    end_speed_m_min: float | None


@dataclass(frozen=True, slots=True)
class Level:
    """Mean offset in one segment, with the doubt of that mean.

    mean_mm    robust mean of the usable frames.
    sd_mm      one standard deviation of mean_mm, with the frames' correlation in it;
               None when one frame without a doubt of its own is all there is.
    spread_mm  one standard deviation of single frames about the mean; None for one frame.
    doubtful   True when no frame was good and doubtful ones had to do.
    zero_sd_mm the part of sd_mm that is the doubt of the zero and of the camera's
               calibration: the same error in every level of the colour, so it is in no
               difference of two.
    camera_sd_mm   the part of zero_sd_mm that another camera does not share.
    """

    segment: int
    speed_m_min: float | None
    frames: int
    mean_mm: float
    sd_mm: float | None
    spread_mm: float | None
    doubtful: bool = False
    zero_sd_mm: float = 0.0
    camera_sd_mm: float = 0.0

    @property
    def own_sd_mm(self) -> float | None:
        """One standard deviation of mean_mm without the doubt of the zero."""
        if self.sd_mm is None:
            return None
        return math.sqrt(max(self.sd_mm**2 - self.zero_sd_mm**2, 0.0))


@dataclass(frozen=True, slots=True)
class Change:
    """Difference of two levels: later minus earlier."""

    from_segment: int
    to_segment: int
    change_mm: float
    sd_mm: float | None
    significant: bool


@dataclass(frozen=True, slots=True)
class Excursion:
    """The frame furthest from zero within one segment that is not a hold."""

    segment: int
    frame: str
    time_s: float | None
    web_m: float | None
    speed_m_min: float | None
    worst_mm: float
    sd_mm: float | None


@dataclass(frozen=True, slots=True)
class Stretch:
    """Web outside tolerance, from where a colour left to where it came back.

    metres is None where the run has no web position; returned is False when
    the run ends before the colour comes back. Metres are web at the camera; the
    speeds are those at which the station printed what the camera saw there.
    worst_sd_mm is the doubt of that one frame; None where it is not known, and in older runs.
    """

    from_frame: str
    to_frame: str
    frames: int
    from_m: float | None
    to_m: float | None
    metres: float | None
    from_s: float | None
    to_s: float | None
    left_at_speed_m_min: float | None
    back_at_speed_m_min: float | None
    worst_mm: float
    returned: bool
    worst_sd_mm: float | None = None


def furthest_out(stretches: Sequence[Stretch]) -> Stretch:
    """The one of some stretches, at least one, that lies furthest from zero at its worst."""
    return max(stretches, key=lambda stretch: abs(stretch.worst_mm))


@dataclass(frozen=True, slots=True)
class Track:
    """One station on one axis as one camera (and web edge) saw it along the run.

    settled    the level a correction and the gate should use (last hold that has one, or
               all frames of a run without ramps); None when nothing is usable.
    flagged    True when the station needs attention; `reasons` says why, in words.
    """

    station: int
    ink: str
    camera: str
    edge: str
    axis: Axis
    tolerance_mm: float
    frames_ok: int
    frames_doubtful: int
    frames_missing: int
    settled: Level | None
    levels: tuple[Level, ...]
    changes: tuple[Change, ...]
    excursions: tuple[Excursion, ...]
    stretches: tuple[Stretch, ...]
    metres_outside: float | None
    frames_outside: int
    flagged: bool
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Two cameras (or edges) that see the same colour differently, beyond their doubt."""

    ink: str
    axis: Axis
    camera: str
    other_camera: str
    difference_mm: float
    sd_mm: float | None
    significant: bool


@dataclass(frozen=True, slots=True)
class Drift:
    """The whole run: its segments, one Track per station, axis, camera and edge.

    notes   what reduced the answer (no speed log, gaps, one speed only), in words.
    edges   shift, skew and width of each colour seen at both web edges.
    round_repeat   plate or cylinder turned, and run-out, where the marks can tell.
    behaviours     terms of every station and what moved together; None where not looked for.
    causes         why, likeliest for the largest movement first.
    cost           web outside tolerance, where to cut it out, what would have saved it.
    alerts         what the monitor would have said while the run printed, in order.
    acceptance     whether the run holds what the job's acceptance protocol asks.
    """

    segments: tuple[Segment, ...]
    tracks: tuple[Track, ...]
    disagreements: tuple[Disagreement, ...]
    metres_total: float | None
    metres_outside: float | None
    notes: tuple[str, ...]
    edges: tuple[EdgePair, ...] = ()
    round_repeat: tuple[RoundRepeat, ...] = ()
    behaviours: Behaviours | None = None
    causes: tuple[Cause, ...] = ()
    cost: Cost | None = None
    alerts: tuple[Alert, ...] = ()
    acceptance: ProtocolCheck | None = None
