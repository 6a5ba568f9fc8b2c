"""What the monitor says while a run prints: plain records, ready for run.json.

Offsets as everywhere: + is late, + is toward the drive side. Metres are web at the camera.
"""

from dataclasses import dataclass
from typing import Literal

from regscan.job.job import Axis

Pace = Literal["steady", "settling", "speed changes"]
AlertKind = Literal["ewma", "cusum", "early warning"]


@dataclass(frozen=True, slots=True)
class Forecast:
    """When a colour leaves tolerance if it goes on as it does.

    ahead         metres of web from the frame it is said at (frames where no metres are known).
    low, high     interval of `ahead`; high None: it may also never leave.
    unit          "m" or "frames".
    rate_mm       how fast it moves, mm per m (or per frame); + toward late, drive side.
    confidence    of the interval.
    """

    ahead: float
    low: float
    high: float | None
    unit: Literal["m", "frames"]
    rate_mm: float
    confidence: float


@dataclass(frozen=True, slots=True)
class Alert:
    """One thing the monitor says, at the frame at which it says it.

    kind       the chart that crossed its limit, or an early warning.
    level_mm   where the colour prints now; moved_mm: by how much that differs from before,
               None for an early warning.
    since_m    web position from which on it moved; None where not known.
    pace       whether the speed held.
    forecast   of an early warning.
    """

    kind: AlertKind
    station: int
    ink: str
    axis: Axis
    camera: str
    edge: str
    frame: str
    time_s: float | None
    web_m: float | None
    speed_m_min: float | None
    pace: Pace
    level_mm: float
    moved_mm: float | None
    since_m: float | None
    forecast: Forecast | None
    sentence: str
