"""What has not settled: where it is, what to wait for, and where it will probably end."""

from dataclasses import dataclass

import numpy as np

from regscan.drift.drift import Level
from regscan.drift.frames import Frames
from regscan.drift.words import lies
from regscan.job.job import Axis

SIGMAS_95 = 1.96
WAIT = "wait"


@dataclass(frozen=True, slots=True)
class Waiting:
    """A colour that has not settled on one axis.

    now_mm, final_mm   where it is and where it will probably end; final_mm and its
                       standard deviation are None where no end is in sight.
    wait_m, wait_s     until less than a tenth of the tolerance is left to go; None where
                       not known.
    again_m, again_s   where no end is in sight: after which to look again, which is as long
                       as it was seen to change up to now.
    """

    station: int
    ink: str
    axis: Axis
    now_mm: float
    final_mm: float | None
    final_sd_mm: float | None
    wait_m: float | None
    wait_s: float | None
    again_m: float | None = None
    again_s: float | None = None

    @property
    def words(self) -> str:
        """What to wait for, and where it will probably end, with its 95 % interval."""
        going = f"{WAIT}: still changing, now {lies(self.axis, self.now_mm)}"
        if self.final_mm is None or self.final_sd_mm is None:
            when = _amount(self.again_m, self.again_s) or "a while"
            return f"{going}; no end in sight yet, look again after {when}"
        if amount := _amount(self.wait_m, self.wait_s):
            going = going.replace(WAIT, f"{WAIT} {amount}", 1)
        reach = SIGMAS_95 * self.final_sd_mm
        return f"{going}; likely to end {lies(self.axis, self.final_mm)} ±{reach:.3f} mm"


def _amount(metres: float | None, seconds: float | None) -> str:
    """ "about 40 m (about 20 s)", of which only one may be known; "" for neither."""
    time = "" if seconds is None else f"about {seconds:.0f} s"
    if metres is None:
        return time
    return f"about {metres:.0f} m" + (f" ({time})" if time else "")


@dataclass(frozen=True, slots=True)
class Unit:
    """What one unit along a hold is in metres and in seconds; None where not known."""

    metres: float | None
    seconds: float | None

    def in_metres(self, amount: float | None) -> float | None:
        """An amount of units in metres of web."""
        return None if amount is None or self.metres is None else amount * self.metres

    def in_seconds(self, amount: float | None) -> float | None:
        """An amount of units in seconds."""
        return None if amount is None or self.seconds is None else amount * self.seconds


def along_hold(frames: Frames, places: np.ndarray, level: Level) -> tuple[np.ndarray, Unit]:
    """What the hold runs along (metres, else seconds, else frames), and the unit of it."""
    web, time = frames.web_m[places], frames.time_s[places]
    speed = level.speed_m_min / 60.0 if level.speed_m_min else None
    if np.isfinite(web).all() and np.ptp(web) > 0:
        return web, Unit(1.0, 1.0 / speed if speed else None)
    if np.isfinite(time).all() and np.ptp(time) > 0:
        return time, Unit(speed, 1.0)
    return np.arange(len(places), dtype=float), Unit(None, None)
