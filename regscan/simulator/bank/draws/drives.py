"""Draws of drive and plate faults, in sizes that presses have (orders of magnitude, [M])."""

from regscan.simulator.bank.draws.situation import Situation
from regscan.simulator.bank.profiles import slowest_rate
from regscan.simulator.press.faults.drives import Backlash, GearRunOut, ServoDelay, WindUp
from regscan.simulator.press.faults.plates import (
    CockedCylinder,
    Impression,
    PlateCreep,
    PlateMounting,
    PlateRunOut,
    PlateSlip,
    SideLayDrift,
)


def backlash(s: Situation) -> Backlash:
    """Mostly on the last ramp's flank through holds; else back on the driving one at once."""
    rate = slowest_rate(s.profile)
    bias = s.between(0.3, 0.6) * rate if s.chance(0.3) else 0.0
    dead = 0.01 if bias == 0.0 else min(0.01, 0.2 * bias)
    shared = s.chance(0.15)
    return Backlash(s.span() if shared else s.station(), s.between(0.03, 0.15), bias, dead, shared)


def wind_up(s: Situation) -> WindUp:
    """Speed and acceleration together, from either end."""
    size, gain = s.between(0.06, 0.2), s.between(0.1, 0.5)
    return WindUp(size, gain, "rewind" if s.chance(0.5) else "unwind")


def gear_run_out(s: Situation) -> GearRunOut:
    """A gear of some other number of teeth than the plate cylinder's."""
    drum = s.chance(0.4) and s.machine.metering.gripped >= 0.5
    length, phase = s.wavelength_mm(150.0, 600.0), float(s.rng.uniform(0, 360))
    size = s.between(0.008, 0.03)
    return GearRunOut(
        s.span() if drum else s.station(), size, length, phase, "drum" if drum else "plate"
    )


def servo_delay(s: Situation) -> ServoDelay:
    """Set to zero at full speed; some loops lag in ramps too."""
    loop = s.either(s.between(0.1, 0.4)) if s.chance(0.3) else 0.0
    return ServoDelay(s.station(), s.either(s.between(15.0, 60.0)), loop, s.fastest)


def plate_run_out(s: Situation) -> PlateRunOut:
    """One wave round the repeat."""
    return PlateRunOut(s.station(), s.between(0.015, 0.05), 1, float(s.rng.uniform(0, 360)))


def plate_mounting(s: Situation) -> PlateMounting:
    """Off along, across, and turned."""
    along, across = s.either(s.between(0.06, 0.2)), s.either(s.between(0.06, 0.2))
    return PlateMounting(s.station(), along, across, s.either(s.between(0.2, 0.6)))


def cocked_cylinder(s: Situation) -> CockedCylinder:
    """Skew and nothing else."""
    return CockedCylinder(s.station(), s.either(s.between(0.06, 0.2)))


def plate_slip(s: Situation) -> PlateSlip:
    """Some slip at one end only."""
    skew = s.either(s.between(0.04, 0.12)) if s.edges and s.chance(0.4) else 0.0
    return PlateSlip(s.station(), s.moment_m(), s.either(s.between(0.04, 0.15)), 0.0, skew)


def plate_creep(s: Situation) -> PlateCreep:
    """Over the whole run, or from some place on."""
    start = 0.0 if s.chance(0.5) else round(0.5 * s.moment_m(), 2)
    whole = s.either(s.between(0.05, 0.15))
    return PlateCreep(s.station(), 1000.0 * whole / (s.length_m - start), start)


def impression(s: Situation) -> Impression:
    """Sometimes with a drum whose working radius changes."""
    ppm = s.either(s.between(10.0, 40.0)) if s.chance(0.25) else 0.0
    ppm = ppm if s.machine.metering.gripped >= 0.5 else 0.0
    return Impression(s.span(), s.moment_m(), s.either(s.between(0.012, 0.03)), ppm)


def side_lay_drift(s: Situation) -> SideLayDrift:
    """With time, or by the sign of the torque."""
    follows = "time" if s.chance(0.6) else "torque"
    size, helix = s.either(s.between(0.05, 0.15)), round(float(s.rng.uniform(14, 25)), 1)
    return SideLayDrift(s.station(), size, helix, follows, s.tau_min(2.0, 10.0))  # type: ignore[arg-type]
