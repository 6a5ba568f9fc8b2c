"""Draws of faults of heat and of the camera's timing (orders of magnitude, [M])."""

from regscan.simulator.bank.draws.situation import Situation
from regscan.simulator.press.faults.sight import FlashTiming, RollingShutter
from regscan.simulator.press.faults.warming import ChillDrum, FilmShrink, LampWarmUp, Moisture

# Which channel of a colour camera an ink is seen in best; black is seen in all.
CHANNELS = {
    "red": ("cyan", "green"),
    "green": ("magenta", "red", "violet"),
    "blue": ("yellow", "orange", "brown"),
}


def lamp_warm_up(s: Situation) -> LampWarmUp:
    """Some heat unevenly, some leave the web wider, some go with the dwell."""
    aside = s.between(0.15, 0.5) if s.edges and s.chance(0.4) else 0.0
    wider = s.between(0.2, 0.6) if s.edges and s.chance(0.4) else 0.0
    dwell = round(float(s.rng.uniform(0.3, 1.0)), 2) if s.chance(0.3) else 0.0
    fast = round(float(s.rng.uniform(0.2, 0.5)), 2) if dwell else 0.0
    size, tau = s.between(0.06, 0.2), s.tau_min(2.0, 15.0)
    return LampWarmUp(s.span(), size, tau, fast, dwell, s.fastest, aside, wider)


def chill_drum(s: Situation) -> ChillDrum:
    """All drums, or one."""
    station = 0 if s.chance(0.5) else s.span()
    return ChillDrum(station, s.either(s.between(3.0, 10.0)), s.tau_min(8.0, 40.0))


def film_shrink(s: Situation) -> FilmShrink:
    """With the dose of a lamp of constant power."""
    share, cross = round(float(s.rng.uniform(0.2, 0.6)), 2), round(float(s.rng.uniform(0, 0.8)), 2)
    size = s.between(100.0, 400.0) if s.machine.metering.gripped >= 0.5 else s.between(15.0, 60.0)
    return FilmShrink(s.span(), size, share, cross, 1.0, s.fastest)


def moisture(s: Situation) -> Moisture:
    """Paper, two to three times as much across."""
    station, ratio = (0 if s.chance(0.6) else s.span()), round(float(s.rng.uniform(2.0, 3.0)), 2)
    size = s.between(40.0, 150.0) if s.machine.metering.gripped >= 0.5 else s.between(8.0, 30.0)
    return Moisture(station, size, ratio, s.tau_min(5.0, 60.0))


def flash_timing(s: Situation) -> FlashTiming:
    """The colours seen in one channel."""
    for channel in s.rng.permutation(list(CHANNELS)):
        seen = [p.number for p in s.job.press.stations if p.ink in CHANNELS[str(channel)]]
        if seen:
            break
    return FlashTiming(tuple(seen or [s.station()]), s.either(s.between(15.0, 60.0)))


def rolling_shutter(s: Situation) -> RollingShutter:
    """Rows read along the web, in either direction."""
    return RollingShutter(s.either(s.between(10.0, 40.0)))
