"""Machine: what the model of a press needs to know of it beyond the job file."""

from dataclasses import dataclass

import numpy as np

from regscan.job.job import Job, Press

# Common practice, no source: paths at both ends of the printing section, and the Poisson
# ratio of most solid webs.
INFEED_M, OUTFEED_M, POISSON = 2.0, 3.0, 0.3


@dataclass(frozen=True, slots=True)
class Metering:
    """Which nips meter the web, as shares that add up to one (docs/how/press_model.md).

    gripped   every station's driven drum grips.
    outfeed   only the outfeed nip meters; the infeed is trimmed for tension.
    infeed    only the infeed nip meters; the outfeed is trimmed for tension.
    """

    gripped: float = 1.0
    outfeed: float = 0.0
    infeed: float = 0.0

    def __post_init__(self) -> None:
        shares = self.gripped, self.outfeed, self.infeed
        if min(shares) < 0.0 or abs(sum(shares) - 1.0) > 1e-9:
            raise ValueError("the shares of a metering layout are zero or more and add up to one")


GRIPPED, OUTFEED, INFEED = Metering(), Metering(0.0, 1.0, 0.0), Metering(0.0, 0.0, 1.0)
LAYOUTS = {"gripped": GRIPPED, "outfeed": OUTFEED, "infeed": INFEED}


@dataclass(frozen=True)
class Machine:
    """K stations on one web path; arrays of length K in print order.

    span_m         web path from the station before; the first is that from the infeed nip.
    reference      index (from 0) of the station all others are measured against.
    spacing_mm     between the marks at the two web edges.
    marks_mm       design place of each station's mark, toward the unwind; None: all alike.
    """

    press: Press
    span_m: np.ndarray
    reference: int
    metering: Metering = GRIPPED
    outfeed_m: float = OUTFEED_M
    poisson: float = POISSON
    spacing_mm: float = 330.0
    marks_mm: tuple[float, ...] | None = None

    @property
    def mark_mm(self) -> np.ndarray:
        """Design place of each station's mark along the web, mm, + toward the unwind."""
        return np.zeros(self.stations) if self.marks_mm is None else np.array(self.marks_mm)

    @property
    def stations(self) -> int:
        """How many."""
        return len(self.span_m)

    @property
    def repeat_m(self) -> float:
        """Web per turn of the plate cylinder, m."""
        return self.press.repeat_mm / 1000.0

    @property
    def place_m(self) -> np.ndarray:
        """Web path from station 1 to each station, m."""
        return np.asarray(np.cumsum(self.span_m) - self.span_m[0])

    def age_m(self, camera: str = "") -> np.ndarray:
        """Web path from each station to the camera, m; negative for stations behind it."""
        numbers = range(1, self.stations + 1)
        return np.array([self.press.path_to_camera_m(k, camera) for k in numbers])

    def rows(self, station: int) -> slice:
        """The index of one station (counted from 1); of all stations for 0."""
        if not 0 <= station <= self.stations:
            raise ValueError(f"station {station} is not among the {self.stations} of this press")
        return slice(None) if station == 0 else slice(station - 1, station)


def machine_of(job: Job, metering: Metering = GRIPPED) -> Machine:
    """The machine of a job; marks stand at both edges of its web."""
    spans = [station.path_m for station in job.press.stations]
    # Every station has a mark but those with an invisible ink.
    places = {mark.ink: mark.circumferential_mm for mark in reversed(job.marks)}
    return Machine(
        press=job.press,
        span_m=np.array([INFEED_M, *spans[1:]]),
        reference=job.station_of(job.reference).number - 1,
        metering=metering,
        spacing_mm=job.press.web_width_mm,
        marks_mm=tuple(places.get(station.ink, 0.0) for station in job.press.stations),
    )
