"""What a run cost in web: metres and frames outside tolerance, and where to cut them out.

Plain records, ready for run.json; what is not known is None. Metres are web at the last camera:
pieces seen by a camera further up are given where they pass the last one.
"""

from dataclasses import dataclass
from typing import Literal

from regscan.job.job import Axis


@dataclass(frozen=True, slots=True)
class Cut:
    """A piece of web outside tolerance.

    station, ink, axis, camera, edge   where it is worst; worst_sd_mm as in Stretch.
    stations    all that are outside anywhere on it, in print order; one in a station's own list.
    frames      that show it outside.
    from_m, to_m, metres   None where the run has no web positions.
    """

    from_m: float | None
    to_m: float | None
    metres: float | None
    from_frame: str
    to_frame: str
    frames: int
    station: int
    ink: str
    axis: Axis
    camera: str
    edge: str
    worst_mm: float
    stations: tuple[int, ...]
    worst_sd_mm: float | None = None


@dataclass(frozen=True, slots=True)
class StationCost:
    """One station over all axes, cameras and edges; web outside twice over counts once."""

    station: int
    ink: str
    metres_outside: float | None
    frames_outside: int


@dataclass(frozen=True, slots=True)
class WhatIf:
    """What the waste of this run would have been.

    assumption   what is taken for granted; unknown: why it cannot be told, "" where it can.
    """

    name: Literal["advised moves", "slower ramps"]
    assumption: str
    metres_outside: float | None
    frames_outside: int | None
    unknown: str = ""


@dataclass(frozen=True, slots=True)
class Settling:
    """How much web one colour took to settle after a speed change.

    segment   the hold; metres: from the end of the change, as the last camera saw it, so the
              web path from the station is in it. None where it cannot be told; `why` says it.
    """

    station: int
    ink: str
    axis: Axis
    camera: str
    edge: str
    segment: int
    metres: float | None
    why: str = ""


@dataclass(frozen=True, slots=True)
class Cost:
    """The whole run.

    cuts       each station's and axis's own pieces, in print order, then along the web.
    job_cuts   all of them merged, in order: what to cut out.
    """

    metres_total: float | None
    metres_outside: float | None
    frames_total: int
    frames_outside: int
    stations: tuple[StationCost, ...]
    cuts: tuple[Cut, ...]
    job_cuts: tuple[Cut, ...]
    what_ifs: tuple[WhatIf, ...]
    settling: tuple[Settling, ...]
