"""An invented press of eight stations a metre apart, the first one the reference."""

import numpy as np

from regscan.job.job import CameraPost, Press, Station
from regscan.simulator.press.machine import GRIPPED, Machine
from regscan.simulator.press.register import Frames, register_of
from regscan.simulator.speed import steady

STEADY = steady(150.0, 400.0)


def press_of(stations=8, span_m=1.0, metering=GRIPPED, reference=0, repeat_mm=304.8, **more):
    """Stations span_m apart (one number, or one for each), the camera at the last of them."""
    spans = np.broadcast_to(np.asarray(span_m, dtype=float), (stations,))
    line = tuple(
        Station(k + 1, f"ink {k + 1}", float(spans[k]) if k else 0.0) for k in range(stations)
    )
    press = Press("Press 2", repeat_mm, 330.0, line, (CameraPost("end", stations, 0.0),))
    return Machine(press, spans, reference, metering, **more)


def printed(machine, effects, station_m, profile=STEADY):
    """Register (stations x places) when each station stood at station_m metres of web.

    The camera sees later what was printed there: every station is read at its own age.
    """
    places = np.atleast_1d(np.asarray(station_m, dtype=float))
    # One run of frames for all stations; each is read where its own prints come by.
    web = (places + machine.age_m()[:, None]).ravel()
    register = register_of(machine, profile, effects, Frames(web, np.zeros(web.shape)))
    own = np.arange(machine.stations)
    return {
        channel: getattr(register, f"{channel}_um").reshape(own.size, own.size, -1)[own, own]
        for channel in CHANNELS
    }


CHANNELS = ("circumferential", "lateral", "skew", "width")


def late(machine, effects, station_m, profile=STEADY):
    """Circumferential register, um."""
    return printed(machine, effects, station_m, profile)["circumferential"]
