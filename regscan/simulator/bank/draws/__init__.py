"""How each fault is drawn for the bank: parameters as presses have them, at random."""

from collections.abc import Callable

from regscan.simulator.bank.draws import drives, heat, web
from regscan.simulator.bank.draws.situation import Situation
from regscan.simulator.press.faults.fault import Fault

DRAWS: dict[str, Callable[[Situation], Fault]] = {
    "backlash": drives.backlash,
    "wind-up": drives.wind_up,
    "gear-run-out": drives.gear_run_out,
    "plate-run-out": drives.plate_run_out,
    "roller-run-out": web.roller_run_out,
    "tension-step": web.tension_step,
    "unwind-inertia": web.unwind_inertia,
    "idler-drag": web.idler_drag,
    "air-film": web.air_film,
    "servo-delay": drives.servo_delay,
    "flash-timing": heat.flash_timing,
    "rolling-shutter": heat.rolling_shutter,
    "lamp-warm-up": heat.lamp_warm_up,
    "chill-drum": heat.chill_drum,
    "film-shrink": heat.film_shrink,
    "impression": drives.impression,
    "plate-slip": drives.plate_slip,
    "plate-creep": drives.plate_creep,
    "plate-mounting": drives.plate_mounting,
    "cocked-cylinder": drives.cocked_cylinder,
    "guide-hunting": web.guide_hunting,
    "side-lay-drift": drives.side_lay_drift,
    "moisture": heat.moisture,
    "splice": web.splice,
    "baggy-edge": web.baggy_edge,
    "roll-change": web.roll_change,
}
