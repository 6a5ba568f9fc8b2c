"""An invented press being set up: true places, actuators with faults, a camera that lags.

Shares no code with the measuring or the advice. Web metres are the only clock: the press
runs at a steady set-up speed, and every command of an actuator takes METRES_PER_COMMAND.
"""

from dataclasses import dataclass, field

import numpy as np

AXES = ("circumferential", "lateral")
PITCH_M = 0.3048  # one frame per repeat
SPEED_M_MIN = 30.0
STEP_MM = 0.01
NOISE_MM = 0.008  # print noise of one frame
WANDER = 0.4  # its correlation from frame to frame


@dataclass
class TrueActuator:
    """gain: true step as a share of the stated one; play: lost when it turns round."""

    gain: float
    play_mm: float
    lies: float  # where within its play it lies: 0 pushed back, play_mm pushed forward

    def move(self, steps: int) -> float:
        """What the print really moves, in mm."""
        wanted = steps * STEP_MM * self.gain
        before = self.lies
        self.lies = min(max(before + wanted, 0.0), self.play_mm)
        return wanted - (self.lies - before)


@dataclass
class TruePress:
    """Stations from 0; `events[axis]` holds (web_m, station, mm) of everything that moved."""

    spans_m: np.ndarray
    camera_m: float
    reference: int
    start_mm: np.ndarray  # station x axis
    actuators: list[list[TrueActuator]]
    grips: bool
    rng: np.random.Generator
    web_m: float = 0.0
    commands: int = 0
    events: tuple[list, list] = field(default_factory=lambda: ([], []))
    drift: np.ndarray | None = None

    @property
    def stations(self) -> int:
        return len(self.start_mm)

    def lag_m(self, station: int) -> float:
        """Web path from a station to the camera."""
        return float(self.spans_m[station + 1 :].sum()) + self.camera_m

    def command(self, station: int, axis: int, steps: int, metres: float) -> float:
        """One command; what it moved in mm."""
        moved = self.actuators[station][axis].move(steps)
        self.events[axis].append((self.web_m, station, moved))
        self.web_m += metres
        self.commands += 1
        return moved

    def place(self, station: int, axis: int, web_m: np.ndarray) -> np.ndarray:
        """Where a station prints at web positions of the press, in mm, + late."""
        place = np.full(np.shape(web_m), self.start_mm[station, axis])
        for at, moved_station, mm in self.events[axis]:
            since = np.maximum(web_m - at, 0.0)
            if not (self.grips and axis == 0):
                place = place + (mm * (web_m >= at) if station == moved_station else 0.0)
                continue
            # A plate that grips: trade.md 1.4, number 3, for one span of length L.
            share = since / float(self.spans_m[1:].mean())
            after = station - moved_station
            shape = {0: 1 - np.exp(-share), 1: -share * np.exp(-share),
                     2: -(share**2) / 2 * np.exp(-share)}.get(after, 0.0)  # fmt: skip
            place = place + mm * shape * (web_m >= at)
        return place

    def final(self, axis: int) -> np.ndarray:
        """Offsets of all stations against the reference once everything has settled."""
        moved = self.start_mm[:, axis].copy()
        for _, station, mm in self.events[axis]:
            moved[station] += mm
        return moved - moved[self.reference]

    def frames(self, count: int) -> tuple[np.ndarray, np.ndarray]:
        """(web_m, offsets count x station x axis) of the next frames; the web runs on."""
        web = self.web_m + PITCH_M * np.arange(1, count + 1)
        offsets = np.zeros((count, self.stations, 2))
        for axis in range(2):
            reference = self.place(self.reference, axis, web - self.lag_m(self.reference))
            for station in range(self.stations):
                true = self.place(station, axis, web - self.lag_m(station)) - reference
                offsets[:, station, axis] = true
        offsets += self._noise(count)
        offsets[:, self.reference] = 0.0
        self.web_m = float(web[-1])
        return web, offsets

    def _noise(self, count: int) -> np.ndarray:
        white = self.rng.normal(0, NOISE_MM, (count, self.stations, 2))
        out = np.empty_like(white)
        last = white[0] if self.drift is None else self.drift
        for k in range(count):
            last = WANDER * last + np.sqrt(1 - WANDER**2) * white[k]
            out[k] = last
        self.drift = last
        return out


def make_press(seed: int) -> TruePress:
    """Six to ten stations, colours up to 3 mm off, true steps up to 5 % from the stated
    one, play up to 0.04 mm; on every other press the plates grip the web."""
    rng = np.random.default_rng([seed, 5])
    stations = int(rng.integers(6, 11))
    start = rng.uniform(-3.0, 3.0, (stations, 2))
    reference = int(rng.integers(0, stations))
    start[reference] = 0.0
    spans = np.concatenate(([0.0], rng.uniform(0.8, 1.3, stations - 1)))
    actuators = [[_actuator(rng) for _ in AXES] for _ in range(stations)]
    return TruePress(spans, 2.0, reference, start, actuators, bool(rng.random() < 0.5), rng)


def _actuator(rng: np.random.Generator) -> TrueActuator:
    play = rng.uniform(0.0, 0.04)
    return TrueActuator(rng.uniform(0.95, 1.05), play, rng.uniform(0.0, play))
