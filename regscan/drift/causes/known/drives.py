"""Causes in drives, gears and plate cylinders that turn unevenly."""

from regscan.drift.causes.sign import (
    ALONG,
    ONE,
    STAIR,
    STOPPED,
    TWIST,
    Company,
    Entry,
    Sign,
)

DRIVE = (
    Entry(
        name="backlash",
        title="play in the gears",
        signs=(
            Sign(ALONG, ("two levels",), ONE),
            Sign(ALONG, ("two levels",), STAIR, -1.5),
        ),
        reason="two levels a fixed distance apart, changing with the direction of the ramp and "
        "not dying away: the other flank of a gear carries; its size is the same at every rate",
        first_check=f"{STOPPED} gear mesh and wear, seating and locking of the cylinder, and "
        "what drags on it.",
        deciding="ramps at two rates: play keeps its size, inertia grows with the rate",
    ),
    Entry(
        name="wind-up",
        title="twist of the drive shaft",
        signs=(
            Sign(ALONG, ("acceleration", "speed", "speed above"), TWIST),
            Sign(ALONG, ("acceleration", "speed"), ("fan to", "fan from", "growing"), -4.0),
        ),
        company=(Company(ALONG, ("acceleration", "speed"), TWIST, False, 2.0),),
        reason="the whole press moves smoothly along the line of drive, most near the motor, in "
        "proportion to speed and acceleration and without a dead zone: torque twists the shaft",
        first_check="Set register at running speed; find the unit that runs hard.",
        deciding="the same ramp with one unit's drag taken off: the twist falls with the torque",
    ),
    Entry(
        name="servo-delay",
        title="a drive that follows late",
        signs=(
            Sign(ALONG, ("speed",), ONE),
            Sign(ALONG, ("acceleration",), ONE, -0.5),
            Sign(ALONG, ("speed above",), ONE, -2.0),
        ),
        company=(Company(ALONG, ("acceleration",), ONE, True, 1.0),),
        reason="one station prints later in proportion to speed, the same way down and up and "
        "without lag: a fixed delay in time (or, with acceleration, its control loop)",
        first_check="For the drive's maintenance: following error and synchronising delay of "
        "this axis. Not an operator's job.",
        deciding="read this mark with another colour's light: a delay of the drive stays",
    ),
    Entry(
        name="gear-run-out",
        title="a gear that is not round",
        signs=(
            Sign(ALONG, ("period in metres",), ONE, 0.0, "gear"),
            Sign(ALONG, ("period in metres",), ("each",), -0.5, "gear"),
        ),
        reason="a wave of the same length in metres of web at every speed: something turns with "
        "the web, and its girth is not the repeat",
        first_check=f"{STOPPED} count the teeth and girths on the table of aliases against "
        "this wave; look at that gear's teeth and run-out.",
        deciding="frames at another pitch, or several marks round the repeat: they tell which "
        "of the aliases is real",
    ),
    Entry(
        name="plate-run-out",
        title="a plate cylinder or sleeve that is not round",
        signs=(Sign(ALONG, ("round the repeat",), ONE),),
        reason="a sine round the repeat that comes again every turn of this cylinder",
        first_check=f"{STOPPED} clean bore, journal and sleeve; dial indicator on the cylinder.",
        deciding="turn the sleeve by half a turn on its cylinder: the sine turns with what is "
        "not round",
    ),
)
