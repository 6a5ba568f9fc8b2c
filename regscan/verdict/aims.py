"""What each colour needs on one axis, for choosing which stations to move."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from regscan.drift.drift import Drift
from regscan.job.job import AXES, Axis, Job
from regscan.verdict.actuator import Actuator, Key, actuator_of
from regscan.verdict.rule import FACTOR
from regscan.verdict.views import View, settled_view

SIGMAS = 2.0
TOLERANCE_SHARE = 0.25


@dataclass(frozen=True, slots=True)
class Aim:
    """One colour on one axis: where it lies, how far it may, and how it can be moved.

    low_mm, high_mm   its offsets at the web edges; alike where there is one mark set.
    reach_mm          it ends inside with margin when both lie within +-reach_mm.
    fixed             its station may not be moved.
    """

    station: int
    ink: str
    axis: Axis
    low_mm: float
    high_mm: float
    sd_mm: float | None
    tolerance_mm: float
    reach_mm: float
    actuator: Actuator
    fixed: bool

    @property
    def middle_mm(self) -> float:
        """The shift a register move can cure."""
        return (self.low_mm + self.high_mm) / 2.0

    @property
    def curable(self) -> bool:
        """Whether both edges fit within reach at once."""
        return (self.high_mm - self.low_mm) / 2.0 <= self.reach_mm

    def stays_within(self) -> tuple[float, float]:
        """(low, high) of the common shift at which this station need not be touched.

        Where the edges lie too far apart to be cured, a quarter of the tolerance
        about the middle, so that the error is at least shared out.
        """
        if self.curable:
            return self.high_mm - self.reach_mm, self.low_mm + self.reach_mm
        spare = TOLERANCE_SHARE * self.tolerance_mm
        return self.middle_mm - spare, self.middle_mm + spare

    def plain_steps(self) -> int:
        """Steps that bring it to the reference; 0 inside the dead band, or where it is fixed."""
        band = dead_band_mm(self.sd_mm, self.actuator.step_mm, self.tolerance_mm)
        if self.fixed or abs(self.middle_mm) < band:
            return 0
        return self.actuator.steps_for(-self.middle_mm)

    def worst_after(self, shift_mm: float) -> float:
        """The larger of both edges after a shift, with its sign."""
        return max(self.low_mm + shift_mm, self.high_mm + shift_mm, key=abs)


def dead_band_mm(sd_mm: float | None, step_mm: float, tolerance_mm: float) -> float:
    """Offsets smaller than this are left alone: half a step, twice the doubt of the level,
    a quarter of the tolerance, whichever is largest (common practice, no source)."""
    return max(abs(step_mm) / 2.0, SIGMAS * (sd_mm or 0.0), TOLERANCE_SHARE * tolerance_mm)


def find_aims(
    drift: Drift, job: Job, learned: Mapping[Key, Actuator], waiting: Collection[tuple[str, Axis]]
) -> list[Aim]:
    """One Aim per station and axis that has a settled offset; the reference has none.

    waiting   (ink, axis) of colours that have not settled: they are not moved now.
    """
    aims = []
    for station in job.press.stations:
        for axis in AXES:
            tracks = [t for t in drift.tracks if t.ink == station.ink and t.axis == axis]
            view = settled_view(tracks)
            if station.ink == job.reference or view is None or (station.ink, axis) in waiting:
                continue
            actuator = actuator_of(station, axis, learned)
            tolerance = job.tolerance_for(station.ink).of(axis)
            about = (station.number, station.ink, axis)
            aims.append(_aim(about, view, actuator, tolerance, station.locked))
    return aims


def _aim(
    about: tuple[int, str, Axis], view: View, actuator: Actuator, tolerance: float, fixed: bool
) -> Aim:
    low, high = _ends(view)
    band = dead_band_mm(view.sd_mm, actuator.step_mm, tolerance)
    margin = max(TOLERANCE_SHARE * tolerance, FACTOR * (view.sd_mm or 0.0))
    reach = max(tolerance - margin, band)
    return Aim(*about, low, high, view.sd_mm, tolerance, reach, actuator, fixed)


def _ends(view: View) -> tuple[float, float]:
    means: Sequence[float] = view.edges_mm or (view.offset_mm,)
    return min(means), max(means)
