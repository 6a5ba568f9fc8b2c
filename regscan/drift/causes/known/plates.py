"""Causes at plates, sleeves, impression and side lay."""

from regscan.drift.causes.sign import (
    ACROSS,
    ALONG,
    ONE,
    SKEW,
    STAIR,
    STOPPED,
    Company,
    Entry,
    Sign,
)

PLATE = (
    Entry(
        name="impression",
        title="impression set anew",
        signs=(
            Sign(ALONG, ("step",), ONE, 0.0, "small"),
            Sign(ALONG, ("step",), STAIR, -0.5, "small"),
            Sign(ALONG, ("step",), STAIR, -1.5),
        ),
        reason="a small step at one moment that stays; more pressure also smears the mark",
        first_check="Back off to kiss impression, both ends alike.",
        deciding="size and smear of the mark before and after the step",
    ),
    Entry(
        name="plate-slip",
        title="a plate or sleeve that slips",
        signs=(
            Sign(ALONG, ("step",), ONE, 0.0, "large"),
            Sign(ALONG, ("step",), ONE, -1.0),
            Sign(SKEW, ("step",), ONE, -0.5),
            Sign(ACROSS, ("step",), ONE, -0.5),
        ),
        company=(Company(SKEW, ("step",), ONE, True, 2.0),),
        reason="a jump at one moment that does not come back with speed: tape or sleeve gave way",
        first_check=f"{STOPPED} plate edge and tape; sleeve, key and air.",
        deciding="go on for some hundred metres: a plate that slipped once slips again",
    ),
    Entry(
        name="plate-creep",
        title="a plate or sleeve that creeps",
        signs=(
            Sign(ALONG, ("drift",), ONE),
            Sign(ALONG, ("warm-up",), ONE, -1.5),
            Sign(ACROSS, ("drift",), ONE, -1.5),
        ),
        reason="one way, metre by metre, and no return with speed: tape or sleeve creeps",
        first_check=f"{STOPPED} plate edge and tape; sleeve, key and air.",
        deciding="stand still for as long as the run took: heat goes on, a creep rests",
    ),
    Entry(
        name="plate-mounting",
        title="a plate mounted turned",
        signs=(Sign(ACROSS, ("round the repeat",), ONE),),
        reason="the same from the first metre and at all speeds, and the print runs sideways "
        "round the repeat: the plate is turned, which no register move cures",
        first_check="Remount the plate; only its mean can be set by register.",
        deciding="marks at more places round the repeat: a turned plate runs, a cocked "
        "cylinder does not",
    ),
    Entry(
        name="cocked-cylinder",
        title="a cylinder across the press",
        signs=(),
        reason="the two web edges differ by the same amount at all speeds, with no sideways run "
        "round the repeat: the cylinder is sheared, not the plate turned",
        first_check=f"{STOPPED} seats of the bearing blocks; skew setting.",
        deciding="marks at more places round the repeat: a turned plate runs, a cocked "
        "cylinder does not",
    ),
    Entry(
        name="moved-and-back",
        title="a setting that was changed and set back, or thrust play",
        signs=(),
        reason="a jump at one moment and the same jump back at another: something was moved, and "
        "moved back; a plate that slips does not come back",
        first_check="Compare both places with what was done on the press. "
        f"{STOPPED} thrust collar and side play.",
        deciding="the same run with nobody at the controls: what comes again is the press",
    ),
    Entry(
        name="side-lay-drift",
        title="a cylinder that wanders sideways",
        signs=(
            Sign(ACROSS, ("warm-up", "two levels", "drift", "dose"), ONE),
            Sign(ACROSS, ("step",), ONE, -2.0),
            Sign(ALONG, ("warm-up", "two levels", "drift"), ONE, -6.0),
        ),
        company=(Company(ALONG, ("warm-up", "two levels", "drift", "dose"), (), True, 3.0),),
        reason="the print moves sideways and, in a fixed ratio, along: helical gears turn the "
        "cylinder as it shifts",
        first_check=f"{STOPPED} thrust collar and side play of this cylinder.",
        deciding="ramps both ways: thrust play follows the torque, heat follows the clock",
    ),
)
